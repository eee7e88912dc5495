"""A browser in front of the demo clinic, as whoever opens it meets it."""

import contextlib
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

FLAGS = [
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]
CHROMIUM = "/usr/bin/chromium"


@dataclass(frozen=True)
class Site:
    """Where the demo is, and the password of everybody in it."""

    address: str
    password: str


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """The demo, served as its users start it, from a taken port on."""
    folder = tmp_path_factory.mktemp("demo")
    with serving(folder, "--demo", str(folder / "demo")) as served:
        yield served


@contextlib.contextmanager
def serving(folder: Path, *options: str) -> Iterator[Site]:
    """`hourmark serve` with these options, as long as it is looked at; what it says goes into the folder."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        log = (folder / "said").open("w+")
        running = subprocess.Popen(
            [sys.executable, "-m", "hourmark.cli", "serve", *options, "--port", str(port)],
            stdout=log,
            stderr=subprocess.STDOUT,
            env={name: value for name, value in os.environ.items() if not name.startswith(("HOURMARK_", "DJANGO_"))},
        )
        try:
            said = _said(Path(log.name), running)
            address = re.search(r"http://localhost:\d+", said)
            password = re.search(r"password (\S+) as", said)
            assert address is not None
            assert password is not None
            assert address[0] != f"http://localhost:{port}"
            yield Site(address[0], password[1])
        finally:
            running.send_signal(signal.SIGINT)
            running.wait(20)
            log.close()


def _said(path: Path, running: "subprocess.Popen[bytes]") -> str:
    said = ""
    for _ in range(600):
        said = path.read_text(encoding="utf-8")
        if (found := re.search(r"http://localhost:\d+", said)) is not None:
            with contextlib.suppress(OSError), urllib.request.urlopen(f"{found[0]}/livez") as alive:
                if alive.status == 200:
                    return said
        assert running.poll() is None, said
        time.sleep(0.1)
    raise AssertionError(said)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield started
        started.close()


class Console:
    """What a page complained of."""

    def __init__(self) -> None:
        self.errors: list[str] = []


@pytest.fixture
def open_context(browser: Browser, site: Site) -> Iterator[Callable[..., BrowserContext]]:
    """Windows of some size and scheme, closed at the end."""
    opened: list[BrowserContext] = []

    def new(width: int = 1280, scheme: str = "light", **more: object) -> BrowserContext:
        context = browser.new_context(
            base_url=site.address,
            viewport={"width": width, "height": 800},
            color_scheme=scheme,  # type: ignore[arg-type]
            **more,  # type: ignore[arg-type]
        )
        opened.append(context)
        return context

    yield new
    for context in opened:
        context.close()


def sign_in(page: Page, site: Site, username: str) -> None:
    page.goto("/accounts/login/")
    page.fill("#id_login", username)
    page.fill("#id_password", site.password)
    page.click("button:text-is('Sign in')")
    page.wait_for_selector("header nav")
