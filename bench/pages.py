"""How long the case page and the plan page take, beside a plain page of the same server in the same run."""

import contextlib
import http.cookiejar
import os
import re
import signal
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.parse
import urllib.request
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

PLAIN, CASE, PLAN = "/accounts/password/reset/", "/cases/K-103/", "/cases/K-103/plan/"
_READERS = 2


@dataclass(frozen=True)
class Served:
    """One page: requests a second by two readers at once, and the seconds within which 95 of 100 were answered."""

    path: str
    a_second: float
    p95: float


def pages(times: int = 120) -> list[Served]:
    """The plain page, the case page and the plan page, one after the other in small turns."""
    with _served() as (address, password):
        readers = [_signed_in(address, password) for _ in range(_READERS)]
        seconds: dict[str, list[float]] = {path: [] for path in (PLAIN, CASE, PLAN)}
        whole = dict.fromkeys(seconds, 0.0)
        for path in seconds:
            for reader in readers:
                _ask(reader, address + path)
        turns = 6
        with ThreadPoolExecutor(_READERS) as pool:
            for _ in range(turns):
                for path, found in seconds.items():
                    started = time.perf_counter()
                    share = times // turns // _READERS
                    jobs = [pool.submit(_asks, reader, address + path, share) for reader in readers]
                    for job in jobs:
                        found += job.result()
                    whole[path] += time.perf_counter() - started
    return [
        Served(path, len(found) / whole[path], statistics.quantiles(found, n=20)[-1]) for path, found in seconds.items()
    ]


def _asks(reader: urllib.request.OpenerDirector, address: str, times: int) -> list[float]:
    return [_ask(reader, address) for _ in range(times)]


def _ask(reader: urllib.request.OpenerDirector, address: str) -> float:
    started = time.perf_counter()
    with reader.open(address) as answer:
        answer.read()
        assert answer.status == 200
        assert answer.url == address
    return time.perf_counter() - started


def _signed_in(address: str, password: str) -> urllib.request.OpenerDirector:
    jar = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
    reader = urllib.request.build_opener(jar)
    with reader.open(f"{address}/accounts/login/") as page:
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page.read().decode())
    assert token is not None
    form = {"csrfmiddlewaretoken": token[1], "login": "kowal", "password": password}
    with reader.open(f"{address}/accounts/login/", urllib.parse.urlencode(form).encode()) as answer:
        assert "A. Kowal" in answer.read().decode()
    return reader


@contextlib.contextmanager
def _served() -> Iterator[tuple[str, str]]:
    with tempfile.TemporaryDirectory() as folder, (Path(folder) / "said").open("w+") as log:
        running = subprocess.Popen(
            [sys.executable, "-m", "hourmark.cli", "serve", "--demo", f"{folder}/demo", "--port", "8300"],
            stdout=log,
            stderr=subprocess.STDOUT,
            env={name: value for name, value in os.environ.items() if not name.startswith(("HOURMARK_", "DJANGO_"))},
        )
        try:
            yield _ready(Path(log.name), running)
        finally:
            running.send_signal(signal.SIGINT)
            running.wait(20)


def _ready(path: Path, running: "subprocess.Popen[bytes]") -> tuple[str, str]:
    for _ in range(600):
        said = path.read_text(encoding="utf-8")
        address, password = re.search(r"http://localhost:\d+", said), re.search(r"password (\S+) as", said)
        if address is not None and password is not None:
            with contextlib.suppress(OSError), urllib.request.urlopen(f"{address[0]}/livez"):
                return address[0], password[1]
        assert running.poll() is None, said
        time.sleep(0.1)
    raise AssertionError(path.read_text(encoding="utf-8"))
