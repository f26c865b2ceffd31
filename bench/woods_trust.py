"""A phone's browser with a fresh profile that trusts the office's authority: does the kit install, and start with the server down?

    python bench/woods_trust.py

The desk is started as an office starts it, with the authority of its own; `certutil` (Debian package libnss3-tools) puts that authority into
the store of one profile and not of another. Exit status 1 where the kit does not install or start, or where an untrusted address would.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))
from woods_day import DAY, Phone, demo_book

from pages.conftest import start_office, stop


def trusting_home(folder: Path, authority: Path) -> Path:
    """A home whose browsers trust this authority and no other of one's own."""
    store = folder / ".pki" / "nssdb"
    store.mkdir(parents=True)
    place = ["-d", f"sql:{store}"]
    subprocess.run(["certutil", *place, "-N", "--empty-password"], check=True)
    subprocess.run(["certutil", *place, "-A", "-t", "C,,", "-n", "office", "-i", str(authority)], check=True)
    return folder


def installs(page: Any) -> list[str]:
    """What keeps the browser from installing the page, in its own words; nothing where it would."""
    client = page.context.new_cdp_session(page)
    return [fault["errorId"] for fault in client.send("Page.getInstallabilityErrors")["installabilityErrors"]]


def run(folder: Path) -> int:
    from playwright.sync_api import Error, sync_playwright

    os.environ["HOME"] = str(folder)
    book = demo_book(folder)
    office = start_office(book, "--on", DAY)
    home = trusting_home(folder / "phone", book.with_name(f"{book.stem}.office") / "authority.pem")
    with sync_playwright() as player:
        stranger = Phone(player, folder / "stranger-profile", office.base, home=folder / "stranger")
        try:
            stranger.start()
            refused = "NOT refused"
        except Error as fault:
            refused = fault.message.splitlines()[0]
        stranger.kill()
        phone = Phone(player, folder / "profile", office.base, home=home)
        page = phone.start()
        ready = page.locator("html").get_attribute("data-offline")
        faults = installs(page)
        phone.kill()
        stop(office)
        phone.start()
        title = phone.page.locator("#head h1").inner_text()
        phone.kill()
    print(f"untrusted: {refused}")
    print(f"trusted: starts without signal: {ready}; keeps it from being installed: {faults or 'nothing'}")
    print(f"server down, browser started anew: the screen says {title!r} after {phone.cold_starts_ms[-1]:.0f} ms")
    return int(refused == "NOT refused" or ready != "ready" or bool(faults) or title != "Today")


def main() -> None:
    if not shutil.which("certutil"):
        sys.exit("certutil is not there: install libnss3-tools.")
    with tempfile.TemporaryDirectory() as folder:
        sys.exit(run(Path(folder)))


if __name__ == "__main__":
    main()
