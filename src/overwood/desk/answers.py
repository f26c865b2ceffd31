"""What a person asks of the book: evidence, advice, why, what is due, what changed, whether the file is complete."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING

from overwood.desk import book, judging
from overwood.desk.question import Question, priced, question  # noqa: F401 (faces ask by way of the answers)
from overwood.ground import measures
from overwood.ground.doubt import Doubt
from overwood.ground.errors import Misuse, NotFound, OverwoodError
from overwood.ground.figure import Figure
from overwood.ground.nearest import nearest
from overwood.ground.records import StandFile
from overwood.ground.vocabulary import as_written
from overwood.judgement import evidence as judged
from overwood.judgement import waiting
from overwood.judgement.course import Advice, advise
from overwood.judgement.course import due as due_room
from overwood.judgement.course.steps import all_steps
from overwood.judgement.evidence import acorns, reproduction, rivals, stock, summary
from overwood.judgement.monitoring import changes as monitoring
from overwood.judgement.rules import Rules, load

if TYPE_CHECKING:
    from overwood.desk.kept import NamedAnswer

# Stands that a process holds: those that one person goes through.
_MOST_FILES = 40


def stand_file(name: str) -> StandFile:
    """The records of one stand; capitals do not matter where only one stand is so called. Raises NotFound naming the
    nearest stand of the book."""
    if file := _read(name):
        return file
    same = stand_name(name)
    if same != name and (file := _read(same)):
        return file
    names = book.store.stand_names()
    near = nearest(name, names)
    listed = (
        f"The book holds {', '.join(names[:12])}."
        if names
        else "The book is empty: bring records in with `overwood import`."
    )
    raise NotFound(
        f"there is no stand {name!r} in the book.", remedy=f"The nearest is {near!r}. {listed}" if near else listed
    )


def _read(name: str) -> StandFile | None:
    return _held(name, book.store.where(), book.store.data_version())


@lru_cache(_MOST_FILES)
def _held(name: str, _where: str, _version: str) -> StandFile | None:
    """A stand as long as the book and its records stay as they are: of one stand in 500 most of the time goes into the
    acorn checks of all its neighbors."""
    return book.store.stand_files([name]).get(name)


def stand_name(typed: str) -> str:
    """The stand that was meant, in its own capitals; as it was typed where none or several are so called."""
    names = book.store.stand_names()
    same = [name for name in names if name.casefold() == typed.strip().casefold()]
    return same[0] if len(same) == 1 and typed not in names else typed


def has_stand(typed: str) -> bool:
    """Whether the book holds a stand so called."""
    return stand_name(typed) in book.store.stand_names()


def all_files() -> dict[str, StandFile]:
    return book.store.stand_files()


def evidence(name: str, ask: Question) -> dict[str, Figure]:
    """Every figure of a stand."""
    return judged.all_figures(stand_file(name), ask.rules, ask.on)


@dataclass(frozen=True)
class EvidenceHead:
    """What stands above the figures: the cruise in a line, the visits the figures rest on, and newer ones that do not
    replace them."""

    cruise: summary.CruiseSummary | None
    basis: tuple[str, ...]
    set_aside: tuple[Doubt, ...]
    level: float


def evidence_head(name: str, ask: Question) -> EvidenceHead:
    """The head of a stand's evidence."""
    file = stand_file(name).as_of(ask.on)
    figures = judged.all_figures(file, ask.rules, ask.on)
    return EvidenceHead(
        summary.summary_of(file, figures, ask.rules),
        judged.basis(file),
        judged.set_aside(file),
        ask.rules.number("interval_level"),
    )


def breakdowns(name: str, ask: Question) -> dict[str, dict[str, tuple[Figure, Figure]]]:
    """Basal area and trees per acre by species, species group, dbh class, crown class and layer."""
    file = stand_file(name).as_of(ask.on)
    return {by: stock.breakdown(file, ask.rules, by) for by in stock.BREAKDOWNS}


def sprouts(name: str, ask: Question) -> dict[str, Figure]:
    """Oak stumps expected to sprout by species and dbh class."""
    return stock.sprouts_by_species(stand_file(name).as_of(ask.on), ask.rules)


def floor_classes(name: str, ask: Question) -> dict[str, dict[str, Figure]]:
    """Reproduction by height class, oak and competitors."""
    return reproduction.by_class(stand_file(name).as_of(ask.on), ask.rules)


def advice(name: str, ask: Question) -> Advice:
    """The next step of one stand."""
    return _advise(stand_file(name), ask)


def _advise(file: StandFile, ask: Question) -> Advice:
    """The advice on a stand, its kept forecast read with it where there is one that speaks to this question."""
    from overwood.desk import kept

    return advise(file, ask.rules, ask.on, prices=ask.prices, **kept.heard(kept.forecasts(file.stand.stand), ask))


def what_if(name: str, ask: Question, rule: str, value: float) -> Advice:
    """The advice under one number moved within its range; nothing is kept. Raises NotFound when there is no such
    number; Misuse when it is no number, or cannot be this one."""
    if rule not in ask.rules.entries:
        raise NotFound(f"there is no number {rule!r} in the rulebook.")
    entry = ask.rules[rule]
    if isinstance(entry.value, list):
        raise Misuse(f"{rule} is a season, not a number.")
    low, _, high = entry.span
    if not low <= value <= high:
        raise Misuse(f"{rule} cannot be {value:g}.", remedy=f"Give {low:g} to {high:g} {entry.unit}.")
    return advice(name, replace(ask, rules=ask.rules.with_value(rule, value)))


def judge(name: str, ask: Question) -> tuple[Advice, list[due_room.Due]]:
    """The next step of one stand and what is due there."""
    return judge_file(stand_file(name), ask)


def judge_file(file: StandFile, ask: Question) -> tuple[Advice, list[due_room.Due]]:
    """The next step of a stand whose records are at hand, and what is due there."""
    advice = _advise(file, ask)
    return advice, due_room.due_of(file, advice, ask.rules)


def property_standing(ask: Question) -> judging.PropertyStanding:
    """Every stand of the book judged; one that cannot be is named with its reason, and the others are judged."""
    return judging.standing_of(
        [judging.judged_or_not(name, partial(judge_file, file, ask)) for name, file in all_files().items()]
    )


def property_advice(ask: Question) -> list[Advice]:
    """The next step of every stand in the book, for what must not leave one out. Raises OverwoodError naming the stands
    that cannot be judged."""
    standing = property_standing(ask)
    if standing.unjudged:
        raise OverwoodError("; ".join(f"{one.stand} could not be judged: {one.reason}" for one in standing.unjudged))
    return [one.advice for one in standing.judged]


def due(ask: Question, until: dt.date) -> list[due_room.Due]:
    """What is due when, over all stands, in the order of the calendar."""
    return judging.calendar_of(property_standing(ask), ask.on, until)


def changes(name: str, ask: Question) -> monitoring.Changes:
    """What changed since the visit before the last."""
    return monitoring.changes(stand_file(name), ask.rules, ask.on)


def completeness(name: str, ask: Question) -> list[monitoring.FileItem]:
    """Whether the stand's file would pass an audit, item by item."""
    return monitoring.completeness(stand_file(name).as_of(ask.on), ask.rules, ask.on)


def bearers(name: str, ask: Question) -> list[acorns.Bearer]:
    """Numbered trees in the order of what they have borne."""
    return acorns.bearers(stand_file(name).as_of(ask.on))


def tally_rows(name: str, ids: tuple[str, ...]) -> dict[str, str]:
    """The named tally rows in words, for unfolding a figure to the ground."""
    file = stand_file(name)
    wanted = set(ids)
    rows_by_id: dict[str, str] = {}
    for table in (
        "trees",
        "seedlings",
        "acorn_trees",
        "points",
        "crowns",
        "site_trees",
        "light_readings",
        "fuels",
        "stems",
    ):
        for row in getattr(file, table):
            if row.id in wanted:
                rows_by_id[row.id] = _in_words(table, row)
    if file.stand.id in wanted:
        rows_by_id[file.stand.id] = f"stand {file.stand.stand}"
    return rows_by_id


def _in_words(table: str, row: object) -> str:
    from overwood.ground.records import TABLES

    words = []
    for name in TABLES[table].columns:
        value = getattr(row, name)
        if value in (None, ""):
            continue
        words.append(_cell_in_words(name, TABLES[table].columns[name].unit, value))
    return f"{table.replace('_', ' ')}: " + ", ".join(words)


def _cell_in_words(name: str, unit: str, value: object) -> str:
    """A cell as a forester says it: 'dbh 21.2 in.', 'crown class codominant'."""
    from overwood.ground.species import by_code

    if name == "species" and isinstance(value, int):
        return f"species {by_code(value).common_name}"
    ending = f"_{unit.rstrip('.').replace('/', '_').replace('%', 'pct')}"
    plain = name.removesuffix(ending).replace("_", " ")
    if not unit:
        return f"{plain} {as_written(str(value)) if name == 'height_class' else value}"
    if isinstance(value, float) and measures.is_metric():
        return f"{plain} {measures.amount(value, unit, 'g')}"
    return f"{plain} {measures.with_unit(str(value), unit)}"


def decide(name: str, ask: Question, *, step: str, reason: str, by: str, form: str = "") -> str:
    """Write a decision down beside the advice it follows or overrides; returns its name.

    ``form`` is the number of the form it was typed in: sent twice it counts once.

    Raises Misuse when the advice is overridden without a reason.
    """
    import hashlib

    file = stand_file(name)
    # What is written down is said in US units, whatever the page that asked shows.
    with measures.in_units(measures.US):
        advised = _advise(file, ask)
    overridden, other = step != advised.step, all_steps().get(step)
    if overridden and not reason.strip():
        raise Misuse(
            f"the advice is “{advised.title}”, and “{other.title if other else step}” overrides it.",
            remedy="Give the reason with --because.",
        )
    title = f"{file.stand.stand}-{ask.on.isoformat()}-{len(file.decisions) + 1}"
    mark = hashlib.sha256(f"decision {form or title}".encode()).hexdigest()
    if form and book.store.batch_of(mark):
        return file.decisions[-1].decision if file.decisions else title
    columns = (
        "decision",
        "stand",
        "decided_on",
        "advised_step",
        "chosen_step",
        "overridden",
        "reason",
        "decided_by",
        "rulebook_version",
    )
    values = (
        title,
        file.stand.stand,
        ask.on.isoformat(),
        advised.title,
        step,
        overridden,
        reason,
        _by_account(by),
        ask.rules.version,
    )
    with book.store.atomic():
        batch = book.store.begin_batch("decision", mark)
        book.store.insert(
            "decisions", ("id", "batch_id", "replaces", *columns), [(book.store.new_ids(1)[0], batch.id, None, *values)]
        )
        batch.rows = {"decisions": 1}
        batch.save(update_fields=["rows"])
    return title


def _by_account(by: str) -> str:
    """Who decided; in an office with the account that wrote it down, where somebody else is named."""
    from overwood.desk import office

    account = office.acting()
    return by if account in ("", by) else f"{by} (written down by {account})"


def rules(overlay: Path | None) -> Rules:
    """The rules in force."""
    return load(overlay)


@dataclass(frozen=True)
class Brief:
    """What the owner's brief is made of."""

    file: StandFile
    advice: Advice
    due: list[due_room.Due]
    classes: dict[str, tuple[Figure, Figure]]
    floor: dict[str, dict[str, Figure]]
    rules: Rules
    data_version: str
    waiting: str
    rivals: str
    # Visits the figures rest on, and what they leave out, in words.
    basis: tuple[str, ...]
    set_aside: tuple[Doubt, ...]


def brief_answer(name: str, ask: Question) -> NamedAnswer[Brief]:
    """The owner's brief; what is kept of it is the advice, under the name that papers print."""
    from overwood.desk import kept

    stand, settings = stand_file(name).stand.stand, {"prices": kept.list_named(ask.prices)}
    return kept.lay(stand, "advice", ask, settings, lambda: brief(name, ask), lambda made: made.advice)


def brief(name: str, ask: Question) -> Brief:
    """Everything the owner's brief says, asked once."""
    file = stand_file(name).as_of(ask.on)
    advised = _advise(file, ask)
    return Brief(
        file=file,
        advice=advised,
        due=due_room.due_of(file, advised, ask.rules),
        classes=stock.breakdown(file, ask.rules, "dbh class"),
        floor=reproduction.by_class(file, ask.rules),
        rules=ask.rules,
        data_version=book.store.data_version(),
        waiting=waiting.words(waiting.waiting(file, ask.rules, ask.prices), ask.rules),
        rivals=rivals.words(file, ask.rules),
        basis=judged.basis(file),
        set_aside=judged.set_aside(file),
    )
