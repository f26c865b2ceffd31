"""What a person said of one sheet, before what was kept for sheets with the same headings."""

from __future__ import annotations

from collections import abc
from dataclasses import dataclass, field

from overwood.ground.errors import Misuse
from overwood.memory.exchange.proposal import AS_WRITTEN, Answers, Choice, Known, Mapping, Question

LEAVE_OUT = "leave out"
_DESIGN = ("baf_ft2_ac", "plot_area_ac")
_MOST_SHOWN = 8


def rows_said(rows: abc.Iterable[int | str]) -> str:
    """The first of some rows, in words."""
    return f"row {', '.join(map(str, list(rows)[:8]))}"


@dataclass(frozen=True, kw_only=True)
class Said:
    """Answers for one sheet: its own (``SHEET.KEY``) before those for every sheet, both before the kept mapping."""

    answers: Answers
    sheet: str
    kept: Mapping | None = None
    known: Known = field(default_factory=Known)
    # The sheet it is a part of, where one kind of plots of a sheet is read apart.
    within: str = ""
    one_of_several: bool = False
    day_order: str = ""
    day_numbers: bool = False

    def key(self, name: str) -> str:
        """The key under which this sheet's question is asked."""
        return f"{self.sheet}.{name}" if self.one_of_several else name

    def setting(self, name: str) -> str:
        """The answer to a question of this file."""
        return self._own(self.answers.settings, name).strip()

    def design(self, *names: str) -> tuple[str, str]:
        """How stems were taken in: which of the two keys was answered, and how; this sheet's own answer first."""
        for prefix in self._prefixes:
            given = [
                (name, told)
                for name in names or _DESIGN
                if (told := self.answers.settings.get(prefix + name, "").strip())
            ]
            if len(given) > 1:
                both = " and ".join(f"{prefix}{name}={told}" for name, told in given)
                raise Misuse(f"{both} were both said, and trees are taken in one way.", remedy="Say one of the two.")
            if given:
                return given[0]
        return "", ""

    def told_unit(self, column: str) -> str:
        """The unit a column was said to be in with this file."""
        return self._own(self.answers.units, column)

    def unit(self, column: str) -> str:
        """The unit a column is to be read in."""
        return self.told_unit(column) or (self.kept.units.get(column, "") if self.kept else "")

    def told_code(self, column: str, written: str) -> str:
        """What a written value was said to stand for with this file."""
        told = self.answers.codes
        names = (f"{prefix}{mark}" for prefix in self._prefixes for mark in (f"{column}.{written}", written))
        return next((told[name] for name in names if name in told), "")

    def code(self, column: str, written: str) -> str:
        """What a written value stands for: as said with this file, else as it was kept."""
        if told := self.told_code(column, written):
            return told
        kept: abc.Mapping[str, str] = self.kept.codes.get(column, {}) if self.kept else {}
        return kept.get(written, "")

    def column(self, heading: str) -> str:
        """The column a heading is to be taken as; "-" leaves it out, "" where nothing was said."""
        return self.answers_column(heading) or (self.kept.columns.get(heading, "") if self.kept else "")

    def answers_column(self, heading: str) -> str:
        """The column a heading was said to be with this file, whatever was kept."""
        told = self.answers.columns
        sheet = self.within or self.sheet
        by_kind = [
            column for key, column in told.items() if key.startswith(f"{sheet}: ") and key.endswith(f".{heading}")
        ]
        counts = "stems" if heading and heading == self.setting("stems") else ""
        return self._own(told, heading) or next(iter(by_kind), counts)

    @property
    def table(self) -> str:
        """The table the sheet is said to hold; "-" leaves it out, "" where nothing was said."""
        return self.answers.tables.get(self.sheet, "") or (self.kept.table if self.kept else "")

    def _own(self, told: abc.Mapping[str, str], name: str) -> str:
        return next((answer for prefix in self._prefixes if (answer := told.get(f"{prefix}{name}", ""))), "")

    @property
    def _prefixes(self) -> tuple[str, ...]:
        """What stands before the key of an answer: the sheet's own name goes before none."""
        names = (self.sheet, self.within) if self.within else (self.sheet,)
        return (*(f"{name}." for name in names), "")


def of_sheet(said: Said, key: str, text: str, meaning: str, evidence: abc.Sequence[str] = ()) -> list[Question]:
    """The question whether a sheet that looks wrong as a whole is right as it is written, or nothing of it is taken."""
    return as_written(said, key, text, meaning, evidence, (Choice(LEAVE_OUT, "no line of the sheet is taken"),))


def as_written(
    said: Said, key: str, text: str, meaning: str, evidence: abc.Sequence[str] = (), others: abc.Sequence[Choice] = ()
) -> list[Question]:
    """The question whether what looks wrong is right as it is written, or one of the others; the first of the evidence
    is shown."""
    answer, more = said.setting(key), len(evidence) - _MOST_SHOWN
    choices = (Choice(AS_WRITTEN, meaning), *others)
    return [
        Question(
            key=said.key(key), kind="set", sheet=said.sheet, text=text, choices=choices,
            evidence=(*evidence[:_MOST_SHOWN], *[f"and {more} more"] * (more > 0)),
            answer=answer if answer in [one.value for one in choices] else "",
        )
    ]  # fmt: skip
