"""Written words and letters into the words of the contract: species, crown letters, classes, yes and no, marks."""

from __future__ import annotations

import functools
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from overwood.ground import species, tables
from overwood.ground.errors import Misuse
from overwood.ground.measures import many
from overwood.ground.records import TABLES
from overwood.ground.vocabulary import HEIGHT_CLASSES, height_class_words
from overwood.memory.exchange import classes, headings
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import is_word

UNKNOWN = str(species.UNKNOWN)
LETTERED = ("crown_class", "status", "quality", "grade", "origin", "place", "method")
YES_NO = ("bearing", "fenced", "in_stand")
MARKED = ("dead_mark", "cull_mark", "live_mark")
CODED = ("species", "species_mark", "note_mark", "height_class", *LETTERED, *YES_NO, *MARKED)
# Columns of marks beside a tree, with what is asked about each that does not say itself what it is.
_BESIDE = {
    "species_mark": "{written} stands behind the species of {lines}: what does it mark?",
    "note_mark": "{written} is the remark of {lines}: is the tree dead, cull or gone?",
}
# Letters of a remark stand for anything: x may be a tree to cut.
_LONGEST_LETTERS = 2
_TIED = re.compile(
    r"(?P<before>[A-Za-z][-/_.])(?P<code>[A-Za-z]{2,})|(?P<first>[A-Za-z]{2,})(?P<behind>[-/_.][A-Za-z])"
)
# Where an unknown word stands on this share of the lines, a column or a list of codes is misread.
_OFTEN, _FEWEST_OFTEN = 0.2, 3
_EITHER = re.compile(r"[/+&]|\bor\b|\band\b", re.IGNORECASE)
_CUT_MARKS = "*†‡+^#°"


@dataclass(frozen=True)
class Codes:
    """What each written value of a column stands for ("" where it is not known), and what must be asked."""

    column: str
    meant: Mapping[str, str]
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()


@functools.cache
def _letters() -> dict[str, dict[str, str]]:
    known: dict[str, dict[str, str]] = {}
    for row in tables.rows("memory/exchange/codes.csv", 3):
        known.setdefault(row["column"], {}).update(dict.fromkeys(row["written"].split("|"), row["code"]))
    return known


def code_of(column: str, written: str) -> str:
    """The code of the record that letters or a word stand for, such as dominant for Dom; "" where they stand for
    none."""
    return _letters()[column].get(written.strip().lower().rstrip("."), "")


def of(
    column: str, values: Sequence[str], said: Said, *, unit: str = "", legend: Mapping[str, str] | None = None
) -> Codes:
    """What the values of a coded column stand for."""
    counts = Counter(value for value in values if value)
    if column == "species":
        return _species(counts, said, legend or {})
    if column == "height_class":
        return _height_classes(counts, said, unit, legend or {})
    if column in YES_NO:
        return _yes_no(column, counts, said)
    if column in MARKED:
        return _marks(column, counts, said)
    if column in _BESIDE:
        return _marks_beside(column, counts, said)
    known = _letters()[column]
    choices = _choices(column)
    meant, questions = {}, []
    for value, count in counts.items():
        told = said.code(column, value)
        usual = known.get(value.lower().rstrip("."), value)
        meant[value] = told or usual
        if column == "status" and not told and value.lower() == "c" and not any(map(_is_dead, counts)):
            # Beside L alone it may mark trees to cut, which live.
            text = f"{value!r} ({many(count, 'line')}) of the status may be cull, or cut: which is it?"
            named = (Choice("cull"), Choice("live", "a mark to cut: the tree stands"))
            questions.append(_asked(column, value, said, text=text, choices=named))
            meant[value] = ""
        elif told not in ("", usual) or meant[value].lower() not in choices:
            # A status that nobody knows may be that of dead trees, and a code on many lines is no slip of the pen.
            needed = column == "status" or _is_often(count, sum(counts.values()))
            text = f"{value!r} ({many(count, 'line')}) is no {column.replace('_', ' ')} that is known."
            text += "" if needed else " Without an answer such lines are refused."
            text = f"{value!r} ({many(count, 'line')}) is taken as {told}." if told else text
            # FIA's status 2 is a dead tree (Database Description, tree table): what is likeliest is offered first.
            first = _letters().get(f"{column}_first", {}).get(value, "")
            shown = tuple(Choice(name) for name in sorted(choices, key=lambda name: name != first))
            questions.append(_asked(column, value, said, text=text, choices=shown, needed=needed))
    return Codes(column, meant, tuple(questions))


def _is_dead(written: str) -> bool:
    return code_of("status", written) == "dead"


def _choices(column: str) -> tuple[str, ...]:
    """What a coded column of the record may hold; a tree's status may be cull too, which is its quality."""
    spec = next(table.columns[column] for table in TABLES.values() if column in table.columns)
    return (*spec.choices, "cull") if column == "status" else spec.choices


def _is_often(count: int, lines: int) -> bool:
    return count >= max(_FEWEST_OFTEN, _OFTEN * lines)


def _asked(column: str, written: str, said: Said, **more: Any) -> Question:
    """The question for one written value; its key names the column where it is not the species."""
    name = written if column == "species" else f"{column}.{written}"
    return Question(key=said.key(name), kind="code", sheet=said.sheet, answer=said.code(column, written), **more)


def _species(counts: Mapping[str, int], said: Said, legend: Mapping[str, str]) -> Codes:
    meant, questions = {}, []
    own = _own_numbers(counts)
    for written, count in counts.items():
        explained = legend.get(written.strip().upper(), "")
        # What this file explains itself goes before what was kept of another.
        told = said.told_code("species", written) if explained else said.code("species", written)
        spelled = told or explained
        match = species.Match(written, None) if written in own and not spelled else _read_species(spelled or written)
        if told and match.spcd is None:
            raise Misuse(f"--code {written}={told}: {told!r} is no species.", remedy="Give its FIA code, such as 833.")
        meant[written] = str(match.spcd) if match.spcd is not None else ("" if match.ambiguous else UNKNOWN)
        if match.spcd is None or (told and match.spcd != species.match(written).spcd):
            questions.append(_species_question(written, count, sum(counts.values()), said, match))
    return Codes("species", meant, tuple(one for one in questions if one is not None))


def _read_species(written: str) -> species.Match:
    """A species, also where code and name stand in one cell (802 - white oak, White Oak (Quercus alba)) and agree."""
    match = species.match(written)
    if match.spcd is not None or match.ambiguous:
        return match
    parts = [part for part in re.split(r":\s+|\s+[-\u2013:=/]\s+|[()]", written) if part.strip()]
    said = {species.match(part).spcd for part in parts}
    return species.Match(written, said.pop()) if len(parts) > 1 and len(said) == 1 and None not in said else match


def _own_numbers(counts: Mapping[str, int]) -> frozenset[str]:
    """Small numbers of a cruiser's own list: where most numbers of the column are below 100 and one of them is no
    national code."""
    numbers = [written for written in counts if written.isascii() and written.isdigit()]
    small = [written for written in numbers if int(written) < 100]
    strange = any(species.match(written).spcd is None for written in small)
    return frozenset(small) if strange and len(small) * 2 > len(numbers) else frozenset()


def _species_question(written: str, count: int, lines: int, said: Said, match: species.Match) -> Question:
    told, match = match.spcd, match if not match.spcd else species.match(written)
    kept = Choice(UNKNOWN, "kept as written and counted as unknown")
    if match.ambiguous:
        choices = tuple(Choice(str(code), species.by_code(code).common_name) for code in match.choices)
        names = ", ".join(f"{one.value} {one.meaning}" for one in choices)
        text = f"Species {written!r} ({many(count, 'line')}) can mean {names}."
        return _asked("species", written, said, text=text, choices=(*choices, kept))
    near = species.near(written)
    choices = tuple(Choice(str(code), species.by_code(code).common_name) for code in near)
    hint = f" The nearest are {', '.join(one.meaning for one in choices)}." if choices else ""
    often = _is_often(count, lines) and any(map(str.isalpha, written))
    # One of two species, such as WO/BO, is known to be one of them: unknown it would count as neither.
    often = often or any(is_species(part.strip()) for part in _EITHER.split(written)[1:] if part.strip())
    text = f"Species {written!r} ({many(count, 'line')}) is not known.{hint}"
    text += "" if often else " Without an answer it is kept as unknown."
    if told:
        text = f"Species {written!r} ({many(count, 'line')}) is taken as {species.by_code(told).common_name}.{hint}"
    return _asked(
        "species", written, said, text=text, choices=(*choices, kept), needed=often, default="" if often else UNKNOWN
    )


def _height_classes(counts: Mapping[str, int], said: Said, unit: str, legend: Mapping[str, str]) -> Codes:
    meant, questions, notes = {}, [], []
    for written, count in counts.items():
        told = said.code("height_class", written)
        spelled = legend.get(written.strip().upper(), "")
        fits = _fitting(spelled or written, unit)
        name = told or (fits[0] if len(fits) == 1 else "")
        meant[written] = name or (written if not classes.span(written) and not classes.class_from_date(written) else "")
        if name and not told and name != written:
            notes.append(f"Height class {written} is taken as {height_class_words(name)}.")
        if told or not name or _is_rounded(written, unit):
            questions.append(_class_question(written, count, said, unit, name))
    return Codes("height_class", meant, tuple(questions), tuple(notes))


def _fitting(written: str, unit: str) -> tuple[str, ...]:
    if written in HEIGHT_CLASSES and unit in ("", "ft"):
        return (written,)
    given = classes.span(written)
    return classes.height_classes(given, unit) if given else ()


def _is_rounded(written: str, unit: str) -> bool:
    """Whether a metric class meets one of the record only nearly, as 30-90 cm does 1-3 ft."""
    given = classes.span(written)
    return given is not None and (given.unit or unit) in ("cm", "m", "mm")


def _class_question(written: str, count: int, said: Said, unit: str, default: str) -> Question:
    given, trap = classes.span(written), classes.class_from_date(written)
    names = (trap,) if trap else classes.near_height_classes(given, unit) if given else tuple(HEIGHT_CLASSES)
    choices = tuple(Choice(name, f"all stems of it are {height_class_words(name)}") for name in names)
    if len(names) > 1 and given:
        choices += (
            Choice(
                classes.SPLIT,
                f"stems shared evenly over {' and '.join(map(height_class_words, names))}, an odd one to the lower",
            ),
        )
    if given and given.unit == "in" and unit != "in" and given.low > 0:
        # Stems that have a dbh are taller than breast height, as the last two classes are.
        tall = [name for name in tuple(HEIGHT_CLASSES)[-2:] if name not in names]
        choices += tuple(Choice(name, f"inches of dbh: all are {height_class_words(name)} tall") for name in tall)
    trapped = " A spreadsheet made a day of it." if trap else ""
    text = f"Height class {written!r} ({many(count, 'line')}) is no single class of the record.{trapped}"
    if default:
        near = height_class_words(default)
        text = (
            f"Height class {written!r} ({many(count, 'line')}) is nearly {near} and is taken as that without an answer."
        )
    needed = bool(given or trap) and not default
    return _asked("height_class", written, said, text=text, choices=choices, needed=needed, default=default)


def _yes_no(column: str, counts: Mapping[str, int], said: Said) -> Codes:
    meant = {written: _first_of(("yes", "no"), written) for written in counts}
    choices = (Choice("yes", f"{column} yes"), Choice("no", f"{column} no"))
    return _words_asked(
        column, counts, said, meant, choices, f"{{written}} ({{lines}}) is neither yes nor no for {column}."
    )


def _marks(column: str, counts: Mapping[str, int], said: Said) -> Codes:
    """A mark in a column for dead or cull trees means yes; a plain no means no; other words are asked about."""
    word = column.removesuffix("_mark")
    meant = {
        written: "yes" if is_word(word, written) or written in _CUT_MARKS else _first_of(("yes", "no"), written)
        for written in counts
    }
    choices = (Choice("yes", f"the tree is {word}"), Choice("no", f"the tree is not {word}"))
    text = f"{{written}} ({{lines}}) stands in the column of {word} trees: is the tree {word}?"
    return _words_asked(column, counts, said, meant, choices, text)


def _marks_beside(column: str, counts: Mapping[str, int], said: Said) -> Codes:
    """A mark beside a species, or a remark: dead and cull say so themselves, a sign or more words are asked about."""
    meant = {written: _first_of(("dead", "cull"), written) for written in counts}
    choices = (
        Choice("dead", "the tree is dead"),
        Choice("cull", "the tree is cull"),
        Choice("gone", "the tree is not there, and is left out"),
        Choice("none", "none of these"),
    )
    return _words_asked(column, counts, said, meant, choices, _BESIDE[column])


def _likely(column: str, written: str) -> str:
    """The meaning of a remark that is offered first: gone, where it names what became of the tree."""
    words = set(re.split(r"[^a-z]+", written.lower()))
    return "gone" if column in _BESIDE and words & headings.words("gone") else ""


def _first_of(names: tuple[str, ...], written: str) -> str:
    return next((name for name in names if is_word(name, written)), "")


def _words_asked(
    column: str, counts: Mapping[str, int], said: Said, meant: Mapping[str, str], choices: tuple[Choice, ...], text: str
) -> Codes:
    """Words of a column as they are meant; those that nobody knows, or that were answered, are asked about."""
    told = {written: said.code(column, written) for written in counts}
    questions = tuple(
        _asked(
            column,
            written,
            said,
            text=text.format(written=repr(written), lines=many(count, "line")),
            choices=tuple(sorted(choices, key=lambda one: one.value != _likely(column, written))),
        )
        for written, count in counts.items()
        if told[written] or not meant[written]
    )
    return Codes(column, {written: told[written] or meant[written] for written in counts}, questions)


def marks_a_tree(remark: str) -> bool:
    """Whether a remark may say that its tree is dead or cull."""
    words = re.split(r"[^a-z]+", remark.lower())
    if any(f" {phrase} " in f" {' '.join(words)} " for phrase in headings.words("gone")):
        return True
    return any(len(word) > _LONGEST_LETTERS and (is_word("dead", word) or is_word("cull", word)) for word in words)


def is_species(written: str) -> bool:
    """Whether a text is a species, or an abbreviation of several."""
    match = species.match(written)
    return match.spcd is not None or match.ambiguous


def marked_species(written: str) -> tuple[str, str]:
    """A species cell as (species, the mark after it): WO* is WO and *, "dead WO" is WO and dead."""
    text = written.strip()
    if is_word("dead", text) and len(text) > 2:
        return "unknown", text.lower()
    # A code set in brackets as a whole is marked by them.
    if text[:1] + text[-1:] in ("()", "[]") and is_species(text[1:-1]):
        return text[1:-1], text[:1] + text[-1:]
    bare = text.rstrip(_CUT_MARKS + " ")
    if bare != text and bare:
        return bare, text[len(bare) :].strip()
    parts = text.replace("(", " ").replace(")", " ").replace("-", " ").split()
    if len(parts) > 1:
        for at, rest in ((0, parts[1:]), (-1, parts[:-1])):
            if (is_word("dead", parts[at]) and len(parts[at]) > 1) or parts[at].lower() == "cull":
                return " ".join(rest), parts[at].lower()
    # A letter tied to a code (D-WO, RM/S) marks something: it is asked about with its tie.
    tied = _TIED.fullmatch(text)
    if tied and is_species(tied["code"] or tied["first"]):
        return tied["code"] or tied["first"], (tied["before"] or tied["behind"]).lower()
    return text, ""
