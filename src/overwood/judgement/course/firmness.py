"""How firm a step is: the share of draws in which it stays, with limits within their ranges and figures within their
error (``draws``)."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.judgement.course.branch import Case
from overwood.judgement.course.draws import LIMITS, LOOKS, Draws, draws_of, steps_of
from overwood.judgement.course.steps import all_steps

_LOOK_WORDS = {
    "cruise": "more points in the cruise",
    "cores": "more increment cores",
    "midstory": "the midstory on more points",
    "acorns": "a look at more oaks for acorns",
    "count": "more plots in the count",
}
# Changed draws that are asked again without the error of one look.
_ASKED_AGAIN = 20


@dataclass(frozen=True, kw_only=True)
class Firmness:
    """How often a step stays.

    ``stays`` is its share of the draws and ``others`` the steps of the rest with theirs, most first. ``look`` is the
    one whose error, left out, brings the step back in most of the draws that left it (``brings_back``); "limits" where
    it is no look but the office's own limits, "" where the step never changed. ``is_known`` is False where a look has
    too few points to set an error, ``is_firm`` where it stays in fewer draws than a step wants that cannot be taken
    back (``firm_least_share``).
    """

    draws: int
    stays: float
    others: tuple[tuple[str, float], ...]
    look: str
    brings_back: float
    is_known: bool
    is_firm: bool
    # Where the limits decide: what those are of that change the step alone, with their quantities marked.
    limits: tuple[str, ...] = ()
    # Limits that alone, at an end of their range, change the step: the limit, that end, and the step it gives.
    turning: tuple[tuple[str, float, str], ...] = field(default=(), repr=False, metadata={"inner": True})

    DERIVED: ClassVar = ("of_ten", "words")

    @property
    def in_doubt(self) -> bool:
        """Whether it is known not to be firm enough for what cannot be taken back."""
        return self.is_known and not self.is_firm

    @property
    def of_ten(self) -> str:
        """The share as a count out of ten, which says 10 only where every draw stayed."""
        return of_ten(self.stays)

    @property
    def words(self) -> str:
        """How firm, what the others say, and what would settle most of it."""
        if not self.is_known:
            return "not known: see the first doubt"
        words = self.of_ten
        named = [f"{all_steps()[step].title.lower()} ({share:.0%})" for step, share in self.others[:2]]
        if named:
            words += f"; the others say {' or '.join(named)}"
        return words + (f"; {self.settles}" if self.look else "")

    @property
    def settles(self) -> str:
        """What would settle most of it, in words; "" where nothing is open."""
        if not self.look:
            return ""
        if self.look == LIMITS:
            named = f": {', '.join(map(measures.prose, self.limits))}" if self.limits else ""
            return f"what decides is where the limits are set, more than any look{named}"
        return f"{_LOOK_WORDS[self.look]} would settle most of it"


def of_ten(stays: float) -> str:
    """A share as a count out of ten, which says 10 only where all stayed."""
    tenths = round(10 * stays)
    almost = {10: "over 9 of 10", 0: "under 1 of 10"} if 0 < stays < 1 else {}
    return almost.get(tenths, f"{tenths} of 10")


@dataclass(frozen=True)
class Drawn:
    """A step and those of its draws; what would settle them is asked when it is told."""

    draws: Draws
    step: str
    steps: list[str]
    is_known: bool

    @property
    def stays(self) -> float:
        """Share of the draws in which the step stays."""
        return 1 - len(self._changed) / len(self.steps)

    @property
    def _changed(self) -> list[int]:
        return [draw for draw, other in enumerate(self.steps) if other != self.step]

    @property
    def is_firm(self) -> bool:
        """Whether it stays in as many draws as a step wants that cannot be taken back."""
        return self.stays >= self.draws.case.rules.number("firm_least_share")

    @property
    def in_doubt(self) -> bool:
        """Whether it is known not to be firm enough for what cannot be taken back."""
        return self.is_known and not self.is_firm

    def told(self) -> Firmness:
        """How firm the step is, with what would settle it."""
        rules, count, changed = self.draws.case.rules, len(self.steps), self._changed
        again = changed[:_ASKED_AGAIN]
        at_ends, without = self.draws.ends_and_without(again)
        look, back = _settling({look: steps.count(self.step) / len(again) for look, steps in without.items()})
        turning = tuple(one for one in at_ends if one[-1] != self.step)
        return Firmness(
            draws=count,
            stays=self.stays,
            is_firm=self.is_firm,
            others=tuple(
                (name, number / count) for name, number in Counter(self.steps[one] for one in changed).most_common()
            ),
            look=look,
            brings_back=back,
            limits=tuple(dict.fromkeys(rules[name].short for name, _, _ in turning)) if look == LIMITS else (),
            turning=turning,
            is_known=self.is_known,
        )


def drawn_of(chosen: Sequence[tuple[Case, str, bool]]) -> list[Drawn]:
    """The draws of the step of each of some stands, and whether a look it rests on has fewer points than the rules
    want; all of one book of rules."""
    draws = [draws_of(case, int(case.rules.number("firm_draws"))) for case, _, _ in chosen]
    return [
        Drawn(one, step, steps, not (is_thin or any(_has_no_error(case.figures[name]) for name in _read(case))))
        for one, steps, (case, step, is_thin) in zip(draws, steps_of([one.all() for one in draws]), chosen, strict=True)
    ]


def _settling(back: Mapping[str, float]) -> tuple[str, float]:
    """The look without whose error most changed draws come back to the step, and their share."""
    best = max(back, key=lambda look: back[look], default="")
    return (best, back[best]) if best and back[best] > 0 else ("", 0.0)


def _read(case: Case) -> tuple[str, ...]:
    """Figures that the step hangs on and that a look measured."""
    return tuple(name for moved in LOOKS.values() for name, _, _ in moved if case.figures[name].measured)


def _has_no_error(figure: Figure) -> bool:
    return figure.level is not None and not all(math.isfinite(end) for end in figure.ends)
