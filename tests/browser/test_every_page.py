"""Every page at phone and desk width, light and dark: axe-core finds nothing, nothing runs over the edge, targets are large enough."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest
from playwright.sync_api import BrowserContext, Page

from tests.browser.conftest import Site, sign_in

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "rules": {"target-size": {"enabled": True}},
}
"""WCAG 2.2 A and AA as axe-core tags its rules; target size is off unless asked for."""

UNDECIDED: set[str] = set()
"""Rules that axe cannot decide here; whatever it reports beside them fails."""

ADDRESSES = {
    "kowal": [
        "/",
        "/cases/new/",
        "/cases/K-101/",
        "/cases/K-104/order/",
        "/cases/K-104/kit/",
        "/cases/K-104/plan/",
        "/cases/K-104/call/",
        "/cases/K-104/call/note/",
        "/cases/K-104/release/",
        "/cases/K-104/details/",
        "/cases/K-104/who/",
        "/cases/K-104/allowed/",
        "/slots/?move=s3",
        "/sources/?page=2",
        "/cases/K-104/kit/hcg-10000-units/carton/",
        "/cases/K-104/link/",
        "/night/",
        "/cases/K-103/night/hcg/given/",
        "/cases/K-103/night/hcg/told/",
        "/handover/",
        "/morning/",
        "/slots/",
        "/rules/",
        "/sources/?key=proposals",
        "/staff/",
        "/nowhere/",
        "/accounts/2fa/",
        "/accounts/2fa/totp/activate/",
        "/accounts/2fa/webauthn/add/",
        "/accounts/sessions/",
        "/accounts/password/change/",
        "/accounts/password/reset/",
    ],
    "devi": ["/cases/K-108/check/", "/cases/K-104/release/"],
    "aumont": ["/cases/K-103/order/"],
    "brandt": ["/rules/", "/staff/"],
    "theatre": ["/cases/K-101/"],
}
WIDTHS, SCHEMES = (320, 1280), ("light", "dark")
LEAST_TARGET = 44


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("username", ADDRESSES)
def test_nothing_stands_in_anybodys_way(
    open_context: Callable[..., BrowserContext], site: Site, username: str, width: int, scheme: str
) -> None:
    page = open_context(width, scheme).new_page()
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page.goto("/accounts/login/")
    found = [("/accounts/login/", *looked_at(page))]
    sign_in(page, site, username)
    for address in ADDRESSES[username]:
        complaints.clear()
        page.goto(address)
        found.append((address, *looked_at(page)))
        found += [(address, said) for said in complaints if "status of 40" not in said]
    assert [one for one in found if one[1:]] == []


def looked_at(page: Page) -> list[str]:
    """Everything that is wrong with the page as it stands."""
    found = axe(page)
    wrong = [f"{rule['id']}: {node['html'][:120]}" for rule in found["violations"] for node in rule["nodes"]]
    wrong += [rule["id"] for rule in found["incomplete"] if rule["id"] not in UNDECIDED]
    if page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth"):
        wrong.append("it runs over the edge")
    small = page.evaluate(
        """least => [...document.querySelectorAll('button, .button, input, select, textarea, nav a, summary')]
            .filter(one => one.offsetParent && !['hidden', 'checkbox', 'radio'].includes(one.type))
            .filter(one => one.getBoundingClientRect().height < least)
            .map(one => one.outerHTML.slice(0, 80))""",
        LEAST_TARGET,
    )
    return wrong + [f"small: {one}" for one in small]


def axe(page: Page) -> dict[str, Any]:
    page.evaluate(AXE)
    found: dict[str, Any] = page.evaluate("rules => axe.run(document, rules)", RULES)
    return found
