"""A passkey: made and used on this machine, by a virtual authenticator (Web Authentication, level 2, section 11)."""

from collections.abc import Callable

from playwright.sync_api import BrowserContext, Page

from tests.browser.conftest import Site, sign_in
from tests.browser.test_every_page import looked_at


def with_an_authenticator(context: BrowserContext) -> Page:
    page = context.new_page()
    devtools = context.new_cdp_session(page)
    devtools.send("WebAuthn.enable")
    devtools.send(
        "WebAuthn.addVirtualAuthenticator",
        {
            "options": {
                "protocol": "ctap2",
                "transport": "internal",
                "hasResidentKey": True,
                "hasUserVerification": True,
                "isUserVerified": True,
                "automaticPresenceSimulation": True,
            }
        },
    )
    return page


def test_a_passkey_is_made_and_signs_in(open_context: Callable[..., BrowserContext], site: Site) -> None:
    page = with_an_authenticator(open_context())
    sign_in(page, site, "lindqvist")
    page.goto("/accounts/2fa/webauthn/add/")
    if page.locator("input[type=password]").count():
        page.fill("input[type=password]", site.password)
        page.locator("main button[type=submit], main form button").first.click()
        page.goto("/accounts/2fa/webauthn/add/")
    page.fill("input[name=name]", "the telephone")
    if page.locator("input[name=passwordless]").count():
        page.check("input[name=passwordless]")
    page.locator("#mfa_webauthn_add, main form button").last.click()
    page.wait_for_url(lambda url: "webauthn/add" not in url)
    page.goto("/accounts/2fa/webauthn/")
    assert "the telephone" in page.content()
    page.set_viewport_size({"width": 320, "height": 640})
    assert looked_at(page) == []
    page.goto("/")
    page.click("button:text-is('Sign out')")
    page.wait_for_load_state()
    page.goto("/accounts/login/")
    page.click("#passkey_login")
    page.wait_for_selector("header nav")
    assert "P. Lindqvist" in page.content()
