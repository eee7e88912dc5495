"""Take the manual's pictures anew: python -m tests.browser.pictures. The demo is opened, and each page is looked at as a nurse finds it."""

import re
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.conftest import CHROMIUM, FLAGS

MANUAL = Path(__file__).resolve().parents[2] / "docs" / "manual"
PICTURES = {
    "today": ("kowal", "/", 1000),
    "case": ("kowal", "/cases/K-101/", 900),
    "order": ("aumont", "/cases/K-103/order/", 1100),
    "kit": ("kowal", "/cases/K-104/kit/", 900),
    "plan": ("kowal", "/cases/K-103/plan/", 1100),
    "check": ("devi", "/cases/K-109/check/", 1000),
    "call": ("kowal", "/cases/K-103/call/", 1000),
    "release": ("kowal", "/cases/K-104/release/", 800),
    "tonight": ("kowal", "/night/", 1100),
    "given": ("kowal", "/cases/K-103/night/hcg/given/", 1000),
    "morning": ("kowal", "/morning/", 900),
}
"""By name: who looks, at which address, and how many pixels of it are shown."""


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "said"
        with log.open("w") as said:
            command = [sys.executable, "-m", "hourmark.cli", "serve", "--demo", f"{folder}/demo", "--port", "8200"]
            running = subprocess.Popen(command, stdout=said, stderr=subprocess.STDOUT)
            try:
                while not (found := re.search(r"http://localhost:\d+", log.read_text(encoding="utf-8"))):
                    time.sleep(0.2)
                password = re.search(r"password (\S+) as", log.read_text(encoding="utf-8"))
                assert password is not None
                time.sleep(2)
                take(found[0], password[1])
            finally:
                running.send_signal(signal.SIGINT)
                running.wait(20)


def take(address: str, password: str) -> None:
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for name, (username, path, height) in PICTURES.items():
            page = browser.new_context(viewport={"width": 1000, "height": height}).new_page()
            page.goto(f"{address}/accounts/login/")
            page.fill("#id_login", username)
            page.fill("#id_password", password)
            page.click("button:text-is('Sign in')")
            page.wait_for_selector("header nav")
            page.goto(f"{address}{path}")
            page.screenshot(path=MANUAL / f"{name}.png")
        browser.close()


if __name__ == "__main__":
    main()
