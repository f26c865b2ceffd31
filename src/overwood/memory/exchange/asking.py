"""What a sheet does not say of itself and must be asked for every file: stand, day, plot, layer and the sizes looked
for."""

from __future__ import annotations

import datetime as dt
import difflib
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from overwood.ground import units
from overwood.ground.measures import many
from overwood.ground.vocabulary import HEIGHT_CLASSES, LAYERS, height_class_words
from overwood.memory.exchange import classes, dates
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said

KINDS = {"trees": "cruise", "seedlings": "reproduction", "acorn_trees": "acorn", "stems": "stem map", "points": ""}
_MOST_CHOICES = 40
_PLOT_SHEET = re.compile(r"(?:plot|point|pt|plt|p)[\s.#_-]*(?:no\.?\s*)?(\d+[a-z]?)", re.IGNORECASE)
_CHECKS = ("check cruise", "check plot", "cruise check", "check-cruise", "re-measure check", "audit")


@dataclass(frozen=True)
class Asked:
    """The answer to one question ("" where there is none), and the question."""

    value: str
    question: Question


def _set(name: str, text: str, said: Said, value: str, **more: object) -> Asked:
    question = Question(key=said.key(name), kind="set", text=text, sheet=said.sheet, answer=value, **more)  # type: ignore[arg-type]
    return Asked(value, question)


def stand(said: Said, titles: Mapping[str, tuple[str, int]]) -> Asked:
    """The stand of a sheet without a column for it: said, or named above the headings."""
    known = {one.stand.casefold(): one.stand for one in said.known.stands}
    told, row = said.setting("stand"), 0
    if not told:
        told, row = next(
            (titles[word] for word in ("stand", "tract", "stand id", "stand no") if word in titles), ("", 0)
        )
    value = known.get(told.casefold(), "" if known else told)
    evidence = (f"row {row} says {told}",) if row and value else ()
    named = known.get(said.sheet.casefold(), value)
    if named and not told and said.one_of_several:
        value, evidence = named, (f"the sheet is named {said.sheet}",)
    elif named != value and not said.answers.settings.get(f"{said.sheet}.stand"):
        told, value, evidence = "", "", (f"the sheet is named {named}",)
    if told and not value and not row:
        near = difflib.get_close_matches(told.casefold(), known, n=1, cutoff=0.6)
        hint = f"; the nearest is {known[near[0]]}" if near else ""
        evidence = (f"there is no stand {told!r} in the book{hint}",)
    choices = tuple(
        Choice(one.stand, _stand_words(one.property, one.last_visit_on)) for one in said.known.stands[:_MOST_CHOICES]
    )
    text = "The sheet does not say the stand: which one is it?"
    if evidence and not value:
        text = f"T{evidence[0][1:]}: which one is it? A new stand is added by a sheet of stands."
    return _set("stand", text, said, value, evidence=evidence, choices=choices)


def stand_names(values: Sequence[str], said: Said) -> tuple[dict[str, str], tuple[Question, ...]]:
    """Stands of a column as the book names them ("" for one it does not have), and the question for each it does not
    have."""
    known = {one.stand.casefold(): one.stand for one in said.known.stands}
    if not known:
        return {}, ()
    meant, questions = {}, []
    numbers = Counter(values)
    for written in (value for value in numbers if value):
        told = said.code("stand", written)
        meant[written] = known.get((told or written).casefold(), "")
        if told or not meant[written]:
            near = difflib.get_close_matches(written.casefold(), known, n=3, cutoff=0.5)
            choices = tuple(Choice(known[name]) for name in near)
            text = (
                f"There is no stand {written!r} in the book ({many(numbers[written], 'line')}): without an answer "
                "they are refused."
            )
            key = said.key(f"stand.{written}")
            questions.append(
                Question(
                    key=key,
                    kind="code",
                    text=text,
                    choices=choices,
                    needed=False,
                    answer=told if meant[written] else "",
                    sheet=said.sheet,
                )
            )
    return meant, tuple(questions)


def _stand_words(home: str, last: dt.date | None) -> str:
    return "; ".join(part for part in (home, f"last visit {last.isoformat()}" if last else "") if part)


def day(said: Said, titles: Mapping[str, tuple[str, int]]) -> Asked:
    """The day of a sheet without a column for it: said as year-month-day, or named above the headings."""
    told, row = said.setting("visited_on"), 0
    if not told:
        told, row = next(
            (titles[word] for word in ("date", "cruise date", "visit date", "day") if word in titles), ("", 0)
        )
    found = dates.read(told, said.day_order) if told else None
    evidence = (f"row {row} says {told}",) if row and found else ()
    choices: tuple[Choice, ...] = ()
    if told and found is None:
        evidence = (f"{told!r} was said",)
        choices = tuple(Choice(one.isoformat(), f"{order} first") for order, one in dates.readings(told).items())
    text = "The sheet does not say the day: when was it measured? Write it as year-month-day."
    return _set("visited_on", text, said, found.isoformat() if found else "", evidence=evidence, choices=choices)


def day_order(said: Said, open_days: Sequence[str]) -> Asked:
    """The order of day and month, where no day of the file settles it."""
    told = said.answers.settings.get("day_order", "").strip().lower()
    value = {
        "month": "month",
        "month first": "month",
        "day": "day",
        "day first": "day",
        "mdy": "month",
        "dmy": "day",
    }.get(told, "")
    shown = open_days[0]
    both = dates.readings(shown)
    choices = tuple(Choice(order, f"{shown} is {both[order]:%d %B %Y}") for order in ("month", "day") if order in both)
    text = f"Does the day or the month come first in {shown!r}? No day of the file settles it."
    question = Question(key="day_order", kind="set", text=text, choices=choices, answer=value)
    return Asked(value, question)


def day_numbers(said: Said, numbers: Sequence[str]) -> Asked:
    """Whether bare numbers in a column of days are those a spreadsheet counts days by."""
    told = said.answers.settings.get("day_numbers", "").strip().lower()
    shown = dates.counted(numbers[0])
    meaning = f"{numbers[0]} is {shown:%d %B %Y}" if shown else ""
    text = f"Is {numbers[0]!r} the number a spreadsheet gives a day?"
    choices = (Choice("yes", meaning), Choice("no", "such lines are refused"))
    question = Question(
        key="day_numbers", kind="set", text=text, choices=choices, answer=told if told in ("yes", "no") else ""
    )
    return Asked(question.answer, question)


def land(said: Said) -> Asked:
    """The property of a list of stands."""
    told = said.setting("property")
    choices = tuple(Choice(name) for name in said.known.properties[:_MOST_CHOICES])
    return _set("property", "Which property do these stands belong to?", said, told, choices=choices)


def point(said: Said) -> Asked:
    """The plot of a tally without a column for it."""
    text = (
        "The sheet does not say the plot or point of a line: if all of it is one plot, give its number. Where it sums "
        "several plots, give the size of all together, or the prism's factor over their number (10/12): they cannot be "
        "told apart, and no error is known."
    )
    # A sheet for each plot is named as its plot.
    of_sheet = _PLOT_SHEET.fullmatch(said.sheet.strip())
    value = said.setting("point") or (of_sheet[1] if of_sheet else "")
    evidence = (f"the sheet is named {said.sheet}",) if of_sheet else ()
    return _set("point", text, said, value, evidence=evidence, choices=(Choice("1", "all lines stand on one plot"),))


def height_class(said: Said, titles: Mapping[str, tuple[str, int]]) -> Asked:
    """The height class of a count that has no column for it; trees counted by a prism have none, and stop here."""
    told = said.setting("height_class")
    if said.design("baf_ft2_ac")[1] or {"baf", "basal area factor", "prism", "prism factor"} & set(titles):
        text = (
            "Trees counted by a prism need their diameters, and the sheet has none: add a column of dbh or of inch "
            "classes. If these are young stems on plots, leave the factor out."
        )
        return _set("height_class", text, said, "")
    choices = tuple(Choice(name, f"all stems are {height_class_words(name)}") for name in HEIGHT_CLASSES)
    text = "The sheet says no heights: if all its stems are of one height class, which one?"
    return _set("height_class", text, said, told if told in HEIGHT_CLASSES else "", choices=choices)


def stems(said: Said, columns: Sequence[str], likely: str = "") -> Asked:
    """The stems of a line in a tally that has no column of counts; ``columns`` are headings that may count them, the
    ``likely`` one before all else."""
    told = said.setting("stems")
    choices = (
        Choice("1", "each line is one stem"),
        *(Choice(one, f"the column {one!r} counts them") for one in columns[:_MOST_CHOICES]),
    )
    choices = tuple(sorted(choices, key=lambda one: one.value != likely))
    text = (
        "The sheet has no column of stems counted: is each line one stem? If a heading counts them, say which: "
        "--map HEADING=stems."
    )
    return _set("stems", text, said, told if told.isdigit() else "", choices=choices)


def other_counts(said: Said, columns: tuple[str, ...], *, are_kinds: bool) -> Asked:
    """Whether columns of whole numbers beside the one of counts are to be left out: their stems would not be stored."""
    told = said.setting("other_counts")
    names = ", ".join(map(repr, columns))
    text = f"{names} may count stems too, beside the column that is read: such stems are not stored."
    else_way = (
        "say that its heading is stems: it is read as one more species"
        if are_kinds
        else "add them up in one column, or give each a sheet of its own"
    )
    choices = (Choice("left out", f"they count nothing that is wanted; else {else_way}"),)
    return _set("other_counts", text, said, told if told == "left out" else "", choices=choices)


def layer(said: Said, clash: bool) -> Asked:
    """What the plots of a tree sheet are for; needed where another sheet has the same layer."""
    told = said.setting("layer").lower()
    value = told if told in LAYERS else ""
    words = {"overstory": "trees of the canopy", "midstory": "small trees below it"}
    choices = tuple(Choice(name, words[name]) for name in words)
    text = "Is this the overstory, or a second ring of small trees?"
    return _set("layer", text, said, value, choices=choices, needed=clash, default="" if clash else "overstory")


def limit(name: str, text: str, said: Said, evidence: str, needed: bool) -> Asked:
    """A limit of the sizes taken in, in the unit its name ends with."""
    length = told_length(said, name)
    value = f"{length:.6g}" if length is not None and length >= 0 else ""
    # An answer that is no length is never passed over: it is asked again.
    refused = f"{name}={said.setting(name)} was said, and is no length" if said.setting(name) and not value else ""
    shown = tuple(filter(None, (refused, evidence)))
    return _set(name, text, said, value, evidence=shown, needed=needed or bool(refused))


def told_length(said: Said, name: str) -> float | None:
    """A length that was answered, in the unit its name ends with; None where none was, or its unit is no length."""
    told, unit = said.setting(name), name.rpartition("_")[2]
    length = classes.measure(told) if told else None
    if length is None:
        return None
    try:
        return float(units.conversion(length[1] or unit, unit)(length[0]))
    except KeyError:
        return None


def looked_for(said: Said) -> Asked:
    """Which kinds of stems were looked for."""
    text = "Which kinds were looked for: oaks; other trees; invasives? A kind that was not is unmeasured, not none."
    choices = (
        Choice("oaks; other trees", "all trees, no invasives"),
        Choice("oaks; other trees; invasives", "invasives too"),
    )
    return _set("looked_for", text, said, said.setting("looked_for"), choices=choices, needed=False)


def kind(table: str, said: Said, title: str) -> Asked:
    """The kind of visit; a check of another cruise is no cruise unless a person says so."""
    words = f"{said.sheet} {title}".lower()
    usual = "inspection" if table == "trees" and any(word in words for word in _CHECKS) else KINDS[table]
    choices = (
        Choice("inspection", "a check, kept beside the cruise and out of the figures"),
        Choice("cruise", "a cruise of its own"),
    )
    text = "What kind of visit is this?"
    return _set("kind", text, said, said.setting("kind"), choices=choices, needed=False, default=usual)
