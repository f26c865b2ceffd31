"""What the kept forecast of a stand says to its advice: whether any course leads to the oak stand that is wanted."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from overwood.judgement.rules import Rules
from overwood.science import survey

if TYPE_CHECKING:
    # Advice needs no compiler, which takes a third of a second to load.
    from overwood.judgement.futures.run import Futures


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """The best course of a forecast: its chance of an oak stand, and of oak as a part; ``answer`` is the kept answer's
    number."""

    answer: int
    made_on: dt.date
    course: str
    oak_stand_chance: float
    oak_stand_error: float
    oak_part_chance: float
    age_yr: int
    others: tuple[str, ...]

    def reaches(self, rules: Rules) -> bool:
        """Whether its best course reaches the chance that is wanted before money is spent, or may by the error of its
        own luck."""
        error = survey.z_quantile(rules.number("interval_level")) * self.oak_stand_error
        return self.oak_stand_chance + error >= rules.number("goal_oak_stand_chance")


def outlook_of(futures: Futures, answer: int, made_on: dt.date) -> Outlook:
    """The outlook of a run of futures."""
    best = futures.best
    winners = sorted((name for name in best.leaders_share if name != "oak"), key=lambda name: -best.leaders_share[name])
    return Outlook(
        answer=answer,
        made_on=made_on,
        course=best.course.name,
        oak_stand_chance=best.oak_stand_chance,
        oak_stand_error=best.oak_stand_error,
        oak_part_chance=best.oak_part_chance,
        age_yr=futures.age_yr,
        others=tuple(winners[:2]),
    )
