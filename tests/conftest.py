"""What tests share: an empty book on SQLite and on PostgreSQL, the demo book, and records made in a line."""

from __future__ import annotations

import contextlib
import datetime as dt
import gc
import itertools
import json
import os
import shutil
import subprocess
import time
import types
from pathlib import Path

import hypothesis
import pytest

from overwood.memory.book import setup

# The same draws in each run, so that a suite that passed passes again; OVERWOOD_DRAW_ANEW=1 seeks further.
hypothesis.settings.register_profile("same", derandomize=os.environ.get("OVERWOOD_DRAW_ANEW") != "1")
hypothesis.settings.load_profile("same")
# Collecting makes half a million objects that all stay, and looking through them for garbage took a twentieth of a run.
gc.disable()
# The browser of tests/pages keeps an event loop in this thread; Django would take it for asynchronous code.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
# Models can be imported only once Django knows a database; no test opens this one.
setup.configure(setup.database(Path(os.devnull), None))

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "demo" / "vesperlick"
DOCS = ROOT / "docs"
DEMO_DAY = dt.date(2025, 10, 15)
TODAY = dt.date(2026, 1, 15)
NEEDS_ALL = os.environ.get("OVERWOOD_NEEDS_ALL") == "1"


def missing(what: str) -> None:
    """Skip with a clear word where a machine lacks something; in CI that is a failure."""
    if NEEDS_ALL:
        pytest.fail(f"{what} is missing, and CI must have it")
    pytest.skip(f"{what} is not on this machine")


@pytest.fixture(autouse=True)
def _own_folders(tmp_path, monkeypatch):
    """No test touches the user's own book, log or settings."""
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    for name in ("OVERWOOD_BOOK", "OVERWOOD_RULES", "OVERWOOD_METRIC", "DATABASE_URL", "XDG_DATA_HOME", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def read_here(monkeypatch):
    """Files that a process of their own reads are read in this one, which is quicker; that process has tests of its own."""
    from overwood.memory.exchange import apart, apart_child, workbook_child, workbooks

    @contextlib.contextmanager
    def output(_command, content, _limits):
        try:
            lines, status = [json.dumps(line) for line in workbook_child.lines(content)], 0
        except Exception as fault:
            lines, status = [json.dumps({"fault": f"{type(fault).__name__}: {fault}"})], 1
        yield lines, status

    monkeypatch.setattr(
        apart, "answer", lambda reader, file, content, said=None, **limits: apart_child.reader(reader)(file, content, **(said or {}))
    )
    monkeypatch.setattr(workbooks, "apart", types.SimpleNamespace(output=output, TooMuch=apart.TooMuch))


@pytest.fixture(scope="session")
def postgres(tmp_path_factory):
    """A PostgreSQL of our own on a socket, gone after the session; its address without a database name."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if not found or shutil.which("runuser") is None or os.geteuid() != 0:
        missing("a PostgreSQL server that the tests can start (Debian package postgresql, as root)")
    binaries, place = found[-1].parent, Path(f"/tmp/overwood-pg-{os.getpid()}")
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir(mode=0o700)
    shutil.chown(place, "postgres", "postgres")

    def run(*command: str) -> None:
        subprocess.run(["runuser", "-u", "postgres", "--", *command], check=True, cwd="/", stdout=subprocess.DEVNULL)

    run(str(binaries / "initdb"), "-D", str(place / "data"), "-A", "trust", "--no-sync")
    options = f"-k {place} -c listen_addresses='' -c fsync=off"
    run(str(binaries / "pg_ctl"), "-D", str(place / "data"), "-o", options, "-l", str(place / "log"), "-w", "start")
    yield place
    run(str(binaries / "pg_ctl"), "-D", str(place / "data"), "-m", "immediate", "stop")
    shutil.rmtree(place, ignore_errors=True)


def made_once(tmp_path_factory, name: str, make) -> Path:
    """A file of the whole run, made by the first process of the run that asks for it; the others wait."""
    folder = tmp_path_factory.getbasetemp()
    folder = folder.parent if os.environ.get("PYTEST_XDIST_WORKER") else folder
    place, failed = folder / name, folder / f"{name}.failed"
    try:
        (folder / f"{name}.making").mkdir()
    except FileExistsError:
        while not place.exists():
            assert not failed.exists(), f"{name} could not be made by another process of the run"
            time.sleep(0.05)
        return place
    try:
        os.replace(make(tmp_path_factory.mktemp("making")), place)
    except BaseException:
        failed.touch()
        raise
    return place


def _copy_of_open_book(folder: Path) -> Path:
    from overwood.desk import session

    session.backup(folder / "copy.sqlite3")
    _close()
    return folder / "copy.sqlite3"


@pytest.fixture(scope="session")
def empty_book_file(tmp_path_factory):
    """A fresh book made once; tests copy it, because making its tables takes most of a second."""
    from overwood.desk import session

    def make(folder):
        session.open_book(folder / "empty.sqlite3", create=True)
        return _copy_of_open_book(folder)

    return made_once(tmp_path_factory, "empty.sqlite3", make)


@pytest.fixture(params=["sqlite", "postgresql"])
def book(request, tmp_path, monkeypatch):
    """An empty book, once on each kind of database."""
    from overwood.desk import session

    if request.param == "sqlite":
        path = tmp_path / "book.sqlite3"
        shutil.copy(request.getfixturevalue("empty_book_file"), path)
        session.open_book(path)
        yield path
        _close()
        return
    address = request.getfixturevalue("new_database")("empty_book")
    monkeypatch.setenv("DATABASE_URL", address)
    session.open_book(None)
    yield None
    _close()


@pytest.fixture(scope="session")
def new_database(postgres):
    """Makes a database of the session's server and gives its address; as a copy of the empty book, whose tables are made once."""
    from overwood.desk import session

    admin = ["runuser", "-u", "postgres", "--", "psql", "-q", "-h", str(postgres), "-d", "postgres", "-c"]
    numbers = itertools.count()

    def made(template: str = "template1") -> str:
        name = f"t{next(numbers)}"
        subprocess.run([*admin, f"create database {name} template {template}"], check=True, cwd="/")
        return f"postgresql://postgres@{str(postgres).replace('/', '%2F')}/{name}"

    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DATABASE_URL", made())
        session.open_book(None, create=True)
        _close()
    subprocess.run([*admin, "alter database t0 rename to empty_book"], check=True, cwd="/")
    return made


def _close() -> None:
    from django.db import connections

    connections.close_all()


@pytest.fixture
def sqlite_book(empty_book_file, tmp_path):
    """An empty book in one file, for what only files do."""
    from overwood.desk import session

    path = tmp_path / "book.sqlite3"
    shutil.copy(empty_book_file, path)
    session.open_book(path)
    yield path
    _close()


@pytest.fixture(scope="session")
def demo_book_file(tmp_path_factory):
    """The demo property imported once; tests copy it."""
    from overwood.desk import importing, session

    def make(folder):
        session.open_book(folder / "demo.sqlite3", create=True)
        report = importing.bring_in(DEMO, today=TODAY)
        assert not report.problems
        return _copy_of_open_book(folder)

    return made_once(tmp_path_factory, "demo.sqlite3", make)


@pytest.fixture
def demo_book(demo_book_file, tmp_path):
    """The demo property in a book of the test's own, open."""
    from overwood.desk import session

    path = tmp_path / "demo.sqlite3"
    shutil.copy(demo_book_file, path)
    session.open_book(path)
    yield path
    _close()


@pytest.fixture
def ask():
    """A question on the demo's day under the default rules."""
    from overwood.desk import answers

    return answers.question(DEMO_DAY)


# Files whose tests take half a second each and more.
_LONG = {
    "test_faults.py",
    "test_light_field.py",
    "test_search.py",
    "test_part_advice.py",
    "test_tallies.py",
    "test_docs.py",
    "test_shapes.py",
}


def pytest_collection_modifyitems(items):
    """What `make check` leaves to `make test`: whole journeys, peers, a second database, papers, pages."""
    for item in items:
        if {"journeys", "peers", "faces", "pages"} & set(item.path.parts) or "postgresql" in item.name or item.path.name in _LONG:
            item.add_marker(pytest.mark.slow)


def pytest_collection_finish():
    gc.freeze()
    gc.set_threshold(20_000, 20, 50)
    gc.enable()


@pytest.fixture
def run(capsys):
    """A command as a person types it: its exit status, what it printed, and what it complained of."""
    from overwood.faces.cli import main as door

    def call(*words: object) -> tuple[int, str, str]:
        status = 0
        try:
            door.main([str(word) for word in words])
        except SystemExit as done:
            status = int(done.code or 0)
        out = capsys.readouterr()
        return status, out.out, out.err

    return call
