"""Opens a book: Django's settings for one SQLite file or for the database that DATABASE_URL names."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import django
from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, OperationalError, connection, connections
from django.db.migrations.executor import MigrationExecutor

from overwood import __version__
from overwood.ground.errors import Misuse, NotFound, OverwoodError

BACKUPS_KEPT = 10
# What an office needs beside the book: accounts, sessions, the log-in throttle. A forester alone has none of their
# tables.
OFFICE_APPS = ("django.contrib.contenttypes", "django.contrib.auth", "django.contrib.sessions", "axes")
_OLDEST_SQLITE = (3, 35, 0)
PRIVATE = 0o600
_READ_ONLY = "PRAGMA query_only=ON;"
# How long a step that another process is making may take, and how often it is looked for.
_ANOTHERS_STEP_S, _LOOK_EVERY_S = 30.0, 0.1
_NEWEST_STAMP = 'select "version" from "stamp" order by "id" desc limit 1'


def default_path() -> Path:
    """Where a forester's own book lies when nothing else is said."""
    from platformdirs import user_data_path

    return user_data_path("overwood") / "book.sqlite3"


def database(path: Path | None, url: str | None) -> dict[str, Any]:
    """Django's database settings for a file or an address."""
    if url:
        return _from_url(url)
    place = path or default_path()
    settings = {"ENGINE": "django.db.backends.sqlite3", "NAME": str(place)}
    if place.exists() and not os.access(place, os.W_OK):
        return settings | {"OPTIONS": {"timeout": 20, "init_command": _READ_ONLY}}
    # What was confirmed is on the disk: a write waits for it (synchronous FULL), also at power loss.
    pragmas = "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;"
    return settings | {"OPTIONS": {"transaction_mode": "IMMEDIATE", "timeout": 20, "init_command": pragmas}}


def is_read_only() -> bool:
    """Whether the open book may be read and not written."""
    return _READ_ONLY in str(connection.settings_dict["OPTIONS"])


def _from_url(url: str) -> dict[str, Any]:
    parts = urlsplit(url)
    if parts.scheme in ("sqlite", "file"):
        return database(Path(unquote(parts.path)), None)
    if parts.scheme not in ("postgres", "postgresql"):
        raise Misuse(
            f"DATABASE_URL begins with {parts.scheme!r}.", remedy="Use postgresql://user@host/name or sqlite:///file."
        )
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": unquote(parts.path.lstrip("/")),
        "USER": unquote(parts.username or ""),
        "PASSWORD": unquote(parts.password or ""),
        # A percent-encoded host is the folder of a local socket; urlsplit would change its case.
        "HOST": unquote(parts.netloc.rpartition("@")[2].partition(":")[0]),
        "PORT": str(parts.port or ""),
    }


def configure(settings_database: dict[str, Any], web: dict[str, Any] | None = None) -> None:
    """Set Django up for this database, and for pages where ``web`` gives their settings; once a process, unless pointed
    at another database."""
    if settings.configured:
        _point_at(settings_database)
        return
    more = dict(web or {})
    if web:
        # Pages ask all day: a connection to a server is kept open between requests, and looked at before it is used
        # again.
        kept = (
            {"CONN_MAX_AGE": 300, "CONN_HEALTH_CHECKS": True}
            if settings_database["ENGINE"].endswith("postgresql")
            else {}
        )
        settings_database = settings_database | kept
    plain: dict[str, Any] = {
        "DATABASES": {"default": settings_database},
        "INSTALLED_APPS": ["overwood.memory.book.apps.BookConfig", *more.pop("APPS", [])],
        "USE_TZ": True,
        "TIME_ZONE": "UTC",
        "DEFAULT_AUTO_FIELD": "django.db.models.BigAutoField",
        "SECRET_KEY": "the command line signs nothing",
    }
    settings.configure(**plain | more)
    django.setup()


def _point_at(settings_database: dict[str, Any]) -> None:
    """Turn a process that already has a book open to another one."""
    held = connections["default"].settings_dict
    if held["NAME"] == settings_database["NAME"] and held["OPTIONS"] == settings_database.get("OPTIONS", {}):
        return
    connections["default"].close()
    connections.settings = connections.configure_settings({"default": settings_database})
    del connections["default"]


def open_book(
    path: Path | None = None, url: str | None = None, *, create: bool = False, web: dict[str, Any] | None = None
) -> None:
    """Make the book ready: settings, and every migration after a backup. Raises NotFound when the file is not there and
    ``create`` is False; OverwoodError when the file is no book, or a newer program made or changed it."""
    url = url if url is not None else (os.environ.get("DATABASE_URL") if path is None else None)
    chosen = database(path, url)
    if chosen["ENGINE"].endswith("sqlite3"):
        _ready_file(Path(chosen["NAME"]), create=create)
    configure(chosen, web)
    _migrate()


def _ready_file(place: Path, *, create: bool) -> None:
    if sqlite3.sqlite_version_info < _OLDEST_SQLITE:
        raise OverwoodError(f"this Python carries SQLite {sqlite3.sqlite_version}; 3.35 or newer is needed.")
    if not place.exists() and not create:
        raise NotFound(
            f"there is no book at {place}.",
            remedy=(
                "Bring records in with `overwood import FILE`, or look at the invented property with `overwood demo`."
            ),
        )
    place.parent.mkdir(parents=True, exist_ok=True)
    if place.exists() and place.stat().st_size:
        with place.open("rb") as stream:
            if stream.read(16) != b"SQLite format 3\x00":
                raise OverwoodError(f"{place} is not a book.", remedy="Name another file with --book.")
    if not place.exists():
        place.touch(mode=PRIVATE)
    _make_private(place)


def _make_private(place: Path) -> None:
    """Close a file to other accounts of the machine: it holds log-in keys. SQLite gives its journals the same
    rights."""
    if os.access(place, os.W_OK) and place.stat().st_mode & 0o077:
        # A file of another account, or a file system without rights, stays as its owner left it.
        with contextlib.suppress(OSError):
            place.chmod(PRIVATE)


def _migrate() -> None:
    if _is_of_this_shape():
        return
    try:
        executor = MigrationExecutor(connection)
    except OperationalError as fault:
        raise OverwoodError(f"the book cannot be opened: {fault}".strip() + ".") from fault
    _refuse_newer(executor)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if not plan:
        return
    if is_read_only():
        raise OverwoodError(
            "this book is of an older Overwood and may only be read, so it cannot be brought to its present shape.",
            remedy="Copy it to a place where you may write, and open the copy.",
        )
    if executor.loader.applied_migrations and connection.vendor == "sqlite":
        backup(reason="before-migration")
    is_new = not executor.loader.applied_migrations
    try:
        _take_steps(executor, [step for step, _ in plan], is_new=is_new)
    except DatabaseError:
        # Another process that opened the book at this moment made a step first: each is made whole or not at all.
        if not _is_shorter(len(plan)):
            raise
        _migrate()
        return
    _stamp()
    if not is_new and ("book", "0012_conflicts") in {(step.app_label, step.name) for step, _ in plan}:
        from overwood.memory.book import view

        view.settle_all_disputes()


def _take_steps(executor: Any, steps: list[Any], *, is_new: bool) -> None:
    if is_new:
        _lay_tables(executor.recorder.Migration, [step.name for step in steps if step.app_label == "book"])
    if not is_new or any(step.app_label != "book" for step in steps):
        call_command("migrate", verbosity=0, interactive=False)


def _lay_tables(taken: Any, steps: Iterable[str]) -> None:
    """Lay a new book's tables as the models have them, in one transaction: taking every step of its past versions
    one by one costs five times as much and ends the same."""
    with connection.schema_editor() as editor:
        for model in (*apps.get_app_config("book").get_models(include_auto_created=True), taken):
            editor.create_model(model)
        taken.objects.bulk_create(taken(app="book", name=name) for name in steps)


def _is_of_this_shape() -> bool:
    """Whether the open book took every step this program has and none that it lacks; reading the steps themselves
    would take longer than most commands."""
    import pkgutil

    folders = {app.label: str(Path(app.path) / "migrations") for app in apps.get_app_configs()}
    steps = [(app, step.name) for app, place in folders.items() for step in pkgutil.iter_modules([place])]
    # As Django finds them: what begins with a line is no step.
    known = {(app, name) for app, name in steps if not name.startswith("_")}
    try:
        with connection.cursor() as cursor:
            cursor.execute('select "app", "name" from "django_migrations"')
            applied = set(cursor.fetchall())
    except DatabaseError:
        return False
    return known <= applied and all((app, name) in known for app, name in applied if app == "book")


def _is_shorter(steps: int) -> bool:
    """Whether another process takes steps of a book's shape; a step is written down a moment after it is made."""
    until = time.monotonic() + _ANOTHERS_STEP_S
    while time.monotonic() < until:
        executor = MigrationExecutor(connection)
        if len(executor.migration_plan(executor.loader.graph.leaf_nodes())) < steps:
            return True
        time.sleep(_LOOK_EVERY_S)
    return False


def _refuse_newer(executor: Any, applied: Iterable[str] | None = None, program: str = "") -> None:
    """A book with steps that this program does not know was changed by a newer one (``program``, where the book
    says)."""
    known = {name for app, name in {*executor.loader.graph.nodes, *executor.loader.replacements} if app == "book"}
    steps = (
        applied if applied is not None else (name for app, name in executor.loader.applied_migrations if app == "book")
    )
    unknown = sorted(set(steps) - known)
    if unknown:
        needed = program or _stamped()
        raise OverwoodError(
            f"this book was changed by a newer Overwood ({needed + ', ' if needed else ''}step "
            f"{unknown[-1]}); this is {__version__}, which could write it wrongly.",
            remedy=(
                "Install that version or a later one, or put back a copy from before the change with `overwood "
                "backup --restore FILE`."
            ),
        )


def _stamp() -> None:
    """Write down which program brought the book to its shape, for an older one to name."""
    from overwood.memory.book.models import Stamp

    Stamp.objects.create(version=__version__, at=datetime.now(UTC))


def _stamped() -> str:
    """Which program last changed the shape of the book; "" where it was never written down."""
    try:
        with connection.cursor() as cursor:
            cursor.execute(_NEWEST_STAMP)
            row = cursor.fetchone()
    except DatabaseError:
        return ""
    return str(row[0]) if row else ""


def backup(target: Path | None = None, *, reason: str = "backup") -> Path:
    """Copy the live book to a file of its own, check the copy, and return where it lies. Raises OverwoodError when the
    copy cannot be written or is damaged; then no file is left."""
    if connection.vendor != "sqlite":
        raise OverwoodError(
            "an office database has backup tools of its own.",
            remedy="Use pg_dump, or `overwood export`.",
        )
    book = Path(connection.settings_dict["NAME"])
    if target is None:
        stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")
        target = book.parent / "backups" / f"{book.stem}-{stamp}-{reason}.sqlite3"
    if target.exists():
        raise OverwoodError(f"{target} is already there.", remedy="Name another file.")
    target.parent.mkdir(parents=True, exist_ok=True)
    connection.ensure_connection()
    try:
        _copy(connection.connection, target)
    except (sqlite3.DatabaseError, OverwoodError) as fault:
        target.unlink(missing_ok=True)
        remedy = (
            "Nothing was kept. Look at the space on the disk; if there is enough, restore the newest good "
            "copy, or `overwood export` what can be read."
        )
        raise OverwoodError(
            f"the book could not be copied soundly: {fault}".rstrip(".") + ".", remedy=remedy
        ) from fault
    _keep_newest(book)
    return target


def _copy(live: sqlite3.Connection, target: Path) -> None:
    """A private copy of the book, opened again and checked."""
    target.touch(mode=PRIVATE)
    with contextlib.closing(sqlite3.connect(target)) as copy:
        live.backup(copy)
    with contextlib.closing(sqlite3.connect(target)) as copy:
        check_sound(copy)


def check_sound(copy: sqlite3.Connection) -> None:
    """Look through every page, every index and every reference of a book. Raises OverwoodError when something is
    damaged."""
    faults = [row[0] for row in copy.execute("pragma integrity_check(3)") if row[0] != "ok"]
    faults += [
        f"{row[0]} names a row of {row[2]} that is not there"
        for row in copy.execute("pragma foreign_key_check").fetchmany(3)
    ]
    if faults:
        raise OverwoodError(f"it is damaged ({'; '.join(faults)}).")


def check_live() -> None:
    """Look through the pages of the open book, before people work in it all day; a database server looks after its own.
    Raises OverwoodError when something is damaged."""
    if connection.vendor != "sqlite":
        return
    try:
        with connection.cursor() as cursor:
            faults = [row[0] for row in cursor.execute("pragma quick_check(3)").fetchall() if row[0] != "ok"]
    except DatabaseError as fault:
        faults = [str(fault)]
    if faults:
        remedy = (
            "Put the newest good copy back with `overwood backup --restore FILE`; `overwood backup --drill "
            "FILE` proves one first."
        )
        raise OverwoodError(f"the book is damaged ({'; '.join(faults)}), so nothing is started on it.", remedy=remedy)


def _keep_newest(book: Path) -> None:
    automatic = sorted((book.parent / "backups").glob(f"{book.stem}-*-before-*.sqlite3"))
    for old in automatic[:-BACKUPS_KEPT]:
        old.unlink()


def restore(source: Path) -> Path:
    """Put a backup in the book's place; the book as it was is itself backed up first. Returns that backup."""
    if not source.exists():
        raise NotFound(f"there is no backup at {source}.")
    copy = sqlite3.connect(source)
    try:
        if not copy.execute("select count(*) from sqlite_master where name = 'batch'").fetchone()[0]:
            raise OverwoodError(f"{source} is not a book.", remedy="Choose another backup.")
        try:
            check_sound(copy)
        except OverwoodError as fault:
            raise OverwoodError(f"{source} cannot be put in place: {fault}", remedy="Choose another backup.") from fault
        _refuse_newer_copy(copy)
        kept = backup(reason="before-restore")
        connection.ensure_connection()
        copy.backup(connection.connection)
    except sqlite3.DatabaseError as fault:
        raise OverwoodError(f"{source} cannot be read as a book: {fault}.", remedy="Choose another backup.") from fault
    finally:
        copy.close()
    connection.close()
    _migrate()
    return kept


def _refuse_newer_copy(copy: sqlite3.Connection) -> None:
    steps = [row[0] for row in copy.execute("select name from django_migrations where app = 'book'")]
    stamped = copy.execute("select count(*) from sqlite_master where name = 'stamp'").fetchone()[0]
    row = copy.execute(_NEWEST_STAMP).fetchone() if stamped else None
    _refuse_newer(MigrationExecutor(connection), steps, row[0] if row else "")
