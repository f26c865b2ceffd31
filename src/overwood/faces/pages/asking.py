"""What every page asks with: the day, the rules, the prices; and what was worked out for the records as they stand."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

from django.http import HttpRequest

from overwood.desk import answers, office, session, timber, work
from overwood.desk import kept as kept_answers
from overwood.desk.answers import Question
from overwood.desk.office import Person
from overwood.faces.served.memo import Memo, Rounds
from overwood.faces.served.serving import Told
from overwood.ground import measures
from overwood.ground.errors import Misuse, OverwoodError
from overwood.judgement.fire.card import Law, load_law
from overwood.judgement.prices import PriceList

_MOST_KEPT, _MOST_TABLES, _MOST_STANDS = 400, 12, 100_000


class _Desk:
    """What the server process was started with, and what it holds so as not to work it out again: the one state of a
    process, which loses nothing with it."""

    def __init__(self) -> None:
        self.on: dt.date | None = None
        self.overlay: Path | None = None
        self.prices: Path | None = None
        self.own_rules = Path("rules.toml")
        self.own_prices = Path("prices.toml")
        self.own_law = Path("law.toml")
        self.tour = False
        self.metric = False
        self.token = ""
        self.office = False
        self.office_folder = Path()
        self.backgrounds: tuple[Path, ...] = ()
        self.kept, self.tables = Memo(_MOST_KEPT), Memo(_MOST_TABLES)
        self.judged, self.drawn, self.rounds = Memo(_MOST_STANDS), Memo(_MOST_STANDS), Rounds()
        # One marking table changes at a time: a table is no thing for two threads.
        self.at_table = threading.Lock()
        self.worker: work.Worker | None = None
        self.lock = threading.Lock()


DESK = _Desk()


def begin(told: Told) -> None:
    """Take what the server was started with; without an overlay named, one that lies beside the book is in force."""
    overlay, book = told.path("rules"), told.path("book")
    # Answers of another book or another day are none of this desk.
    for held in (DESK.kept, DESK.tables, DESK.judged, DESK.drawn):
        held.clear()
    DESK.on = dt.date.fromisoformat(told.on) if told.on else None
    DESK.prices, DESK.token, DESK.tour, DESK.metric = told.path("prices"), told.token, told.tour, told.metric
    DESK.office, DESK.office_folder = bool(told.hosts), Path(told.office_folder)
    DESK.backgrounds = tuple(Path(name) for name in told.backgrounds)
    DESK.own_rules = overlay or session.rules_beside(book)
    DESK.own_prices, DESK.own_law = DESK.prices or session.prices_beside(book), session.law_beside(book)
    DESK.overlay = DESK.own_rules if DESK.own_rules.exists() else overlay


def hand() -> work.Worker:
    """Who does long work in this process; one without a server takes up none that waits."""
    with DESK.lock:
        DESK.worker = DESK.worker or work.Worker({}, 0)
        return DESK.worker


def person(request: HttpRequest) -> Person:
    """Who asks; a stranger may do nothing, so pages that need nobody must not ask."""
    person: Person = request.person
    return person


def note(request: HttpRequest, what: str) -> None:
    """Say in words what a request changed, for the office's audit log."""
    request.changed = what


def typed(request: HttpRequest, name: str) -> str:
    """What was typed into a field of a form."""
    return str(request.POST.get(name, "")).strip()


@contextlib.contextmanager
def at_field(name: str) -> Iterator[None]:
    """What fails within is a fault at this field of the form."""
    try:
        yield
    except OverwoodError as fault:
        fault.field = fault.field or name
        raise


def body(request: HttpRequest) -> dict[str, Any]:
    """The JSON object that a script of a page sent. Raises Misuse when it is none."""
    try:
        plain = json.loads(request.body or b"{}")
    except ValueError:
        raise Misuse("the request is no JSON.", remedy="Load the page again.") from None
    if not isinstance(plain, dict):
        raise Misuse("the request is no JSON object.", remedy="Load the page again.")
    return plain


def question(on: str = "") -> Question:
    """The question of today, of the day the server was told, or of the day that work was asked for."""
    return answers.question(dt.date.fromisoformat(on) if on else DESK.on or dt.date.today(), DESK.overlay, price_path())


def price_path() -> Path | None:
    """The price list in force: the one the server was told of, or the one that was typed; None where there is none."""
    return DESK.prices or session.where_kept(DESK.own_prices)


def prices() -> PriceList | None:
    """The price list in force."""
    return timber.price_list(price_path())


def law_path() -> Path | None:
    """Where that lies which was found out of the law for burning; None where nothing was."""
    return session.where_kept(DESK.own_law)


def law() -> Law:
    """What was found out of the law for burning."""
    return load_law(law_path())


def list_marks() -> tuple[tuple[int, int], ...]:
    """What changes when the price list or the law does."""
    return tuple(mark_of(path) for path in (price_path(), law_path()) if path is not None)


def mark_of(path: Path) -> tuple[int, int]:
    """What changes when a file does."""
    stat = path.stat()
    return stat.st_mtime_ns, stat.st_size


def kept(name: str, ask: Question, make: Callable[[], Any]) -> Any:
    """An answer worked out once for a version of the records, a day, the rules and the units its sentences are said
    in."""
    return DESK.kept.once((name, measures.system()), _rests_on(ask), make)


def is_kept(name: str, ask: Question) -> bool:
    """Whether an answer is worked out for the records, the day and the rules as they are."""
    held = DESK.kept.get((name, measures.system()))
    return held is not None and held[0] == _rests_on(ask)


def _rests_on(ask: Question) -> Any:
    return (kept_answers.view_version(), ask.on, ask.rules.version, list_marks())


def everywhere(request: HttpRequest) -> dict[str, Any]:
    """What the frame of every page shows."""
    ask = question()
    who = getattr(request, "person", None)
    return {
        "person": who,
        "office": DESK.office,
        # What a page offers: nobody is shown a form that would be refused.
        "may": {role: who is not None and who.may(role) for role in office.ROLES},
        "day": ask.on,
        "rulebook": ask.rules.version,
        "told_day": DESK.on is not None,
        "part": request.path.split("/")[1],
        "tour": DESK.tour,
        "form_fault": getattr(request, "form_fault", None),
        **_units(request),
    }


def _units(request: HttpRequest) -> dict[str, Any]:
    """The switch between US and metric units, and a word where a page cannot follow it yet."""
    metric = getattr(request, "units", measures.US) == measures.METRIC
    other = measures.US if metric else measures.METRIC
    return {
        "units_link": f"/units/{other}/?next={quote(request.get_full_path())}" if request.method == "GET" else "",
        "is_metric": measures.is_metric(),
        "units_words": f"Say values in {other} units",
    }
