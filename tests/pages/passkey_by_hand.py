"""A browser makes a passkey under the account and logs in by it; a program of its own, because its flags are no other test's.

Passkeys work only where the certificate holds, so this browser takes the office's own as good.
"""

from __future__ import annotations

import sys

from playwright.sync_api import sync_playwright


def main(chromium: str, base: str, name: str, password: str) -> None:
    flags = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--ignore-certificate-errors"]
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=chromium, args=flags)
        page = browser.new_context().new_page()
        device = {
            "protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True, "isUserVerified": True,
            "automaticPresenceSimulation": True,
        }  # fmt: skip
        wire = page.context.new_cdp_session(page)
        wire.send("WebAuthn.enable")
        wire.send("WebAuthn.addVirtualAuthenticator", {"options": device})
        page.goto(base + "/login/?next=/account/")
        page.get_by_label("Name").fill(name)
        page.get_by_label("Password").fill(password)
        page.keyboard.press("Enter")
        page.wait_for_url("**/account/")
        page.get_by_label("Which device").fill("laptop")
        page.locator("[data-passkey]").get_by_label("Password").fill(password)
        page.get_by_role("button", name="Make a passkey").click()
        page.get_by_text("laptop, made").wait_for()
        page.get_by_role("button", name="Log out").click()
        page.wait_for_url("**/login/")
        page.goto(base + "/login/?next=/account/")
        page.get_by_role("button", name="Log in with a passkey").click()
        page.wait_for_url("**/account/")
        page.get_by_text("last used").wait_for()
        print(f"{page.locator('main strong').first.inner_text()} came in")
        browser.close()


if __name__ == "__main__":
    main(*sys.argv[1:])
