"""What a Windows machine lacks is not needed: the program is imported and its main job run without it."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

# Modules of POSIX systems alone, per the library reference's list of availability.
POSIX_ONLY = ("fcntl", "resource", "pwd", "grp", "termios")
BLOCKED = f"""
import os, sys
for name in {POSIX_ONLY!r}:
    sys.modules[name] = None
for name in ("fork", "forkpty"):
    if hasattr(os, name):
        delattr(os, name)
"""
EVERY_MODULE = (
    BLOCKED
    + """
import importlib, pkgutil
import overwood
from pathlib import Path
from overwood.faces.served import serving
from overwood.memory.book import setup
told = serving.Told(hosts=("localhost",), office_folder=str(Path.cwd() / "office"))
setup.configure(setup.database(Path.cwd() / "book.sqlite3", None), serving.web_settings(told))
names = [part.name for part in pkgutil.walk_packages(overwood.__path__, "overwood.")
         if not part.name.endswith("__main__")]
for name in names:
    importlib.import_module(name)
print(len(names), "modules")
"""
)
COMMAND = BLOCKED + "from overwood.faces.cli.main import main\nmain(sys.argv[1:])\n"


def _python(script, *words, cwd):
    command = [sys.executable, "-c", script, *map(str, words)]
    # As wide as a table is by itself: a terminal's width would break its lines elsewhere.
    wide = {**os.environ, "COLUMNS": "150"}
    return subprocess.run(command, check=False, capture_output=True, encoding="utf-8", cwd=cwd, env=wide)


@pytest.mark.slow
def test_every_module_is_imported_without_the_modules_of_posix(tmp_path):
    done = _python(EVERY_MODULE, cwd=tmp_path)

    assert done.returncode == 0, done.stderr
    assert int(done.stdout.split()[0]) > 200


@pytest.mark.slow
def test_the_demo_runs_the_main_job_from_any_folder_without_posix(tmp_path):
    done = _python(COMMAND, "demo", cwd=tmp_path)

    assert done.returncode == 0, done.stderr
    assert "6,867 records in, 0 faults" in done.stdout
    text = " ".join(done.stdout.split())
    for words in ("Inject", "seed cut", "removal cut", "overwood import"):
        assert words in text
    papers = tmp_path / "demo-out"
    assert (papers / "S1-brief.pdf").read_bytes().startswith(b"%PDF")
    assert (papers / "due.ics").exists()


def test_where_tells_the_book_and_makes_nothing(run, tmp_path):
    status, out, _ = run("where", "--book", tmp_path / "of mine" / "book.sqlite3")

    assert status == 0
    assert str(tmp_path / "of mine" / "book.sqlite3") in out
    assert "not there" in out
    assert not (tmp_path / "of mine").exists()


def test_where_names_the_database_of_an_office_without_its_password(run, monkeypatch):
    monkeypatch.setenv("DATABASE_URL", "postgresql://desk:secret-word@db/overwood")

    _, out, _ = run("where")

    assert "DATABASE_URL" in out
    assert "secret-word" not in out
