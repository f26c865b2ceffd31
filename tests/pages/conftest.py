"""A served desk of the tests' own: started as a user starts it, on a copy of the demo or on an empty book."""

from __future__ import annotations

import contextlib
import dataclasses
import http.client
import os
import re
import shutil
import ssl
import subprocess
import sys
import time
import urllib.parse
import uuid
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from conftest import DEMO_DAY, ROOT, missing
from pages.forked import Forked

# Debian's Chromium without windows of its own where it is installed: a page costs it a quarter of what it costs the whole browser.
CHROMIUM = next((path for path in ("/usr/bin/chromium-headless-shell", "/usr/bin/chromium") if Path(path).exists()), "")
# Looks 50 ms apart: five minutes, so that a busy machine fails no test.
_PATIENCE, _BUSY_MS = 6_000, 300_000


class Asked:
    """A desk that answers requests; `ask` gives status, headers and body of one."""

    base = "http://127.0.0.1"

    def ask(self, path, *, method="GET", body=None, headers=None, cookies=True):
        raise NotImplementedError

    def page(self, path):
        """The text of a page that must be there."""
        status, _, body = self.ask(path)
        assert status == 200, (path, status, body[:400])
        return body.decode()

    def judged(self):
        """The property page once every stand is judged."""
        for _ in range(_PATIENCE):
            page = self.page("/")
            if "still to be judged" not in page:
                return page
            time.sleep(0.05)
        raise AssertionError("the stands were not judged")

    def print_and_keep(self, stand, which, fields):
        """The page of papers once a paper was printed and kept by the work tray."""
        assert self.send(f"/papers/{stand}/{which}/keep", fields, form=f"/papers/{stand}/")[0] == 302
        for _ in range(_PATIENCE):
            self.work()
            page = self.page(f"/papers/{stand}/")
            if 'id="job-' not in page:
                return page
            time.sleep(0.05)
        raise AssertionError("the paper was not printed")

    def work(self):
        """Have the work done that waits; a server does it by itself."""

    def send(self, path, fields, *, form=None, files=(), token=None):
        """Send a form as a browser does, with the token of the page it stands on."""
        if token is None:
            token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', self.page(form or path))[1]
        fields = [("csrfmiddlewaretoken", token), *(fields.items() if isinstance(fields, dict) else fields)]
        headers = {"Referer": self.base + path, "Origin": self.base}
        if files:
            mark = uuid.uuid4().hex
            parts = [f'--{mark}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode() for name, value in fields]
            for name, file_name, content in files:
                head = f'--{mark}\r\nContent-Disposition: form-data; name="{name}"; filename="{file_name}"\r\nContent-Type: application/octet-stream\r\n\r\n'
                parts.append(head.encode() + content + b"\r\n")
            return self.ask(
                path, method="POST", body=b"".join(parts) + f"--{mark}--\r\n".encode(),
                headers={**headers, "Content-Type": f"multipart/form-data; boundary={mark}"},
            )  # fmt: skip
        body = urllib.parse.urlencode(fields)
        return self.ask(path, method="POST", body=body, headers={**headers, "Content-Type": "application/x-www-form-urlencoded"})


@dataclass
class Served(Asked):
    """A running server and the cookies of one browser."""

    port: int
    address: str
    process: subprocess.Popen | Forked
    book: Path
    cookies: dict[str, str] = field(default_factory=dict)
    host: str = "127.0.0.1"
    trust: ssl.SSLContext | None = None

    @property
    def base(self) -> str:
        return f"{'https' if self.trust else 'http'}://{self.host}:{self.port}"

    def link(self):
        if self.trust:
            return http.client.HTTPSConnection(self.host, self.port, timeout=120, context=self.trust)
        return http.client.HTTPConnection(self.host, self.port, timeout=120)

    def someone(self):
        """Another browser at the same desk, without cookies."""
        return dataclasses.replace(self, cookies={})

    def logged_in(self, name, password):
        """A browser of somebody with an account."""
        found = self.someone()
        status, headers, _ = found.send("/login/", {"name": name, "password": password, "next": "/"})
        assert (status, headers["Location"]) == (302, "/")
        return found

    def ask(self, path, *, method="GET", body=None, headers=None, cookies=True):
        """Status, headers and body of one request."""
        link = self.link()
        given = dict(headers or {})
        if cookies and self.cookies:
            given["Cookie"] = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        link.request(method, path, body=body, headers=given)
        answer = link.getresponse()
        text = answer.read()
        for cookie in answer.msg.get_all("Set-Cookie") or []:
            if cookies:
                name, _, value = cookie.split(";")[0].strip().partition("=")
                self.cookies[name] = value
        link.close()
        return answer.status, answer.headers, text


class Here(Asked):
    """A desk asked in this process by its owner: no server is started, the tokens of forms are asked for as ever."""

    def __init__(self, book: Path):
        from django.core import signing

        from overwood.faces.pages import guard

        self.book, self.client = book, self._stranger()
        self.client.cookies[guard.COOKIE] = signing.dumps("owner", salt=guard.COOKIE)

    def _stranger(self):
        from django.test import Client

        return Client(enforce_csrf_checks=True, raise_request_exception=False, SERVER_NAME="127.0.0.1")

    @property
    def cookies(self):
        return {name: cookie.value for name, cookie in self.client.cookies.items()}

    def work(self):
        from overwood.desk.work import Worker
        from overwood.faces.pages import tray

        worker = Worker(tray.KINDS, 0)
        while worker._next():
            pass

    def ask(self, path, *, method="GET", body=None, headers=None, cookies=True):
        given = dict(headers or {})
        kind = given.pop("Content-Type", "application/octet-stream")
        asks = self.client if cookies else self._stranger()
        answer = asks.generic(method, path, body or b"", content_type=kind, headers=given)
        return answer.status_code, answer.headers, answer.getvalue()


@contextlib.contextmanager
def asked_here(book: Path, *, prices: Path | None = None):
    """The desk on this book, on the demo's day."""
    from django.test import override_settings

    from overwood.faces.pages import asking
    from overwood.faces.served.serving import Told, web_settings

    told = Told(book=str(book), on=DEMO_DAY.isoformat(), prices=str(prices or ""))
    with override_settings(**web_settings(told)):
        asking.begin(told)
        yield Here(book)


def _launched(
    words: list[str], pattern: str, env: dict[str, str], *, typed: bool, cheap: bool = False
) -> tuple[subprocess.Popen | Forked, re.Match]:
    """The command under way, and the address in the first line it prints."""
    if typed:
        command = [sys.executable, "-m", "overwood", *words]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env)
    else:
        process = Forked(words, env, cheap=cheap)
    line = process.stdout.readline()
    address = re.search(pattern, line)
    assert address, (line, process.stderr.read() if process.poll() is not None else "")
    return process, address


def _answers(served: Served) -> Served:
    for _ in range(_PATIENCE):
        try:
            served.ask("/static/overwood.css", cookies=False)
            return served
        except ConnectionRefusedError:
            if served.process.poll() is not None:
                break
            time.sleep(0.05)
    stop(served)
    raise AssertionError("the server did not answer")


def start(book: Path, *more: str, typed: bool = False) -> Served:
    """Start the server, where ``typed`` in a process of its own as a user does; the owner's cookie is not taken yet."""
    words = ["serve", "--port", "0", "--book", str(book), *more]
    process, address = _launched(words, r"http://127\.0\.0\.1:(\d+)(/launch/\S+)", dict(os.environ), typed=typed)
    return _answers(Served(int(address[1]), address[2], process, book))


def start_office(
    book: Path | None, *more: str, authority: Path | None = None, database: str = "", typed: bool = False, cheap: bool = False
) -> Served:
    """Start the desk of an office; trusts the authority it made, or the one named. ``cheap`` where hashing of passwords is not what a test is
    about."""
    words = ["serve", "--office", "--listen", "127.0.0.1", "--port", "0", "--host", "localhost", *more]
    words += ["--book", str(book)] if book else []
    env = {**os.environ, "DATABASE_URL": database} if database else dict(os.environ)
    process, address = _launched(words, r"https://localhost:(\d+)(/\S*)", env, typed=typed, cheap=cheap)
    beside = book or Path(os.environ["HOME"]) / ".local" / "share" / "overwood" / "book.sqlite3"
    trust = ssl.create_default_context(cafile=str(authority or beside.with_name(f"{beside.stem}.office") / "authority.pem"))
    return _answers(Served(int(address[1]), address[2], process, book, host="localhost", trust=trust))


def stop(served: Served) -> None:
    served.process.terminate()
    try:
        served.process.wait(10)
    except subprocess.TimeoutExpired:
        served.process.kill()
        served.process.wait()
    served.process.stdout.close()
    served.process.stderr.close()


@pytest.fixture(scope="session")
def demo_file(demo_book_file):
    """The demo book as a file that servers are started on."""
    return demo_book_file


def copied(demo_file, folder) -> Path:
    import sqlite3

    path = folder / "book.sqlite3"
    source, target = sqlite3.connect(demo_file), sqlite3.connect(path)
    source.backup(target)
    source.close()
    target.close()
    own_prices(path)
    return path


def own_prices(book) -> Path:
    """A price list beside a book, which its pages may write over: the demo's own is never given to them."""
    return Path(shutil.copyfile(ROOT / "demo" / "prices.toml", book.with_name("prices.toml")))


@pytest.fixture(scope="module")
def served(demo_file, tmp_path_factory):
    """The demo, open to the owner, for a module's tests."""
    book = copied(demo_file, tmp_path_factory.mktemp("book"))
    found = start(book, "--on", DEMO_DAY.isoformat(), "--prices", str(book.with_name("prices.toml")))
    assert found.ask(found.address)[0] == 302
    found.judged()
    yield found
    stop(found)


@pytest.fixture(scope="module")
def here(demo_file, empty_book_file, tmp_path_factory):
    """The demo asked in this process by its owner, for a module's tests; most pages need no server to be asked. The empty book is made before it:
    making one opens it."""
    from conftest import _close
    from overwood.desk import session

    book = copied(demo_file, tmp_path_factory.mktemp("book"))
    session.open_book(book)
    with asked_here(book, prices=book.with_name("prices.toml")) as found:
        yield found
    _close()


@pytest.fixture
def fresh(sqlite_book, read_here):
    """An empty book, open to the owner."""
    with asked_here(sqlite_book) as found:
        yield found


@pytest.fixture
def fresh_served(tmp_path, empty_book_file):
    """An empty book on a server of its own, open to the owner."""
    shutil.copy(empty_book_file, tmp_path / "new.sqlite3")
    found = start(tmp_path / "new.sqlite3", "--on", DEMO_DAY.isoformat())
    assert found.ask(found.address)[0] == 302
    yield found
    stop(found)


@pytest.fixture(scope="session")
def chromium():
    """Debian's Chromium, without any of its own calls to the network."""
    if not CHROMIUM:
        missing("Chromium (Debian package chromium-headless-shell or chromium)")
    from playwright.sync_api import sync_playwright

    flags = [
        "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update",
        "--disable-sync", "--renderer-process-limit=2", "--disable-site-isolation-trials",
    ]  # fmt: skip
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=CHROMIUM, args=flags)
        yield browser
        browser.close()


class Watched:
    """A page that notes console errors and every request that leaves the machine."""

    def __init__(self, browser, served: Served, **more):
        self.served, self.context = served, browser.new_context(**more)
        cookies = [{"name": name, "value": value, "url": served.base} for name, value in served.cookies.items()]
        self.context.add_cookies(cookies)
        self.context.set_default_timeout(_BUSY_MS)
        self.page = self.context.new_page()
        self.errors: list[str] = []
        self.foreign: list[str] = []
        self.page.on("console", lambda message: self.errors.append(message.text) if message.type in ("error", "warning") else None)
        self.page.on("pageerror", lambda fault: self.errors.append(str(fault)))
        self.page.on(
            "request", lambda request: None if request.url.startswith((served.base, "data:")) else self.foreign.append(request.url)
        )

    def go(self, path):
        self.page.goto(self.served.base + path)
        # A page whose numbers take time comes at once, and again when they are there.
        self.page.wait_for_selector("[data-coming]", state="detached")
        return self.page

    def quiet(self):
        """Nothing was complained of, and nothing left the machine."""
        assert (self.errors, self.foreign) == ([], [])

    def close(self):
        self.context.close()
        self.quiet()


def faults_of(page, only=(), without=()):
    """What axe finds on a page, of whatever weight; by some of its rules alone, or without some, where they are named."""
    from axe_playwright_python.base import AXE_SCRIPT

    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    options = {"resultTypes": ["violations"], "rules": {rule: {"enabled": False} for rule in without}}
    options |= {"runOnly": only} if only else {}
    asked = "options => axe.run(options).then(found => found.violations.map(one => `${one.id}: ${one.nodes[0].html}`))"
    return page.evaluate(asked, options)


@pytest.fixture
def browser_page(chromium, served):
    found = Watched(chromium, served, viewport={"width": 1280, "height": 900})
    yield found
    found.close()


@pytest.fixture(scope="module")
def one_phone(chromium, served):
    """One page for all that is only looked at: a page of its own costs a browser four processes."""
    found = Watched(chromium, served, viewport={"width": 390, "height": 800}, is_mobile=True, has_touch=True)
    yield found
    found.close()


@pytest.fixture
def phone_page(chromium, served):
    found = Watched(chromium, served, viewport={"width": 390, "height": 800}, is_mobile=True, has_touch=True)
    yield found
    found.close()


@pytest.fixture
def owner(demo_book, read_here):
    """The demo asked in this process by its owner, by Django's own client."""
    with asked_here(demo_book, prices=own_prices(demo_book)) as found:
        found.client.handler.enforce_csrf_checks = False
        found.client.raise_request_exception = True
        yield found.client
