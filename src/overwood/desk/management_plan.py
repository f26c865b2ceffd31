"""The management plan of a property: its aim, its stands, what is due when, and the prescription of each stand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from overwood.desk import answers, places, session
from overwood.desk import prescription as prescribing
from overwood.desk.judging import calendar_of
from overwood.desk.kept import NamedAnswer
from overwood.desk.prescription import Prescription
from overwood.desk.question import Question
from overwood.ground.errors import Misuse, NotFound, OverwoodError
from overwood.ground.records import Property
from overwood.judgement.course import Advice
from overwood.judgement.course.due import Due

_YEARS = 10


@dataclass(frozen=True)
class ManagementPlan:
    """Prescriptions bound together, each as it lies in the book under its name; a stand for which nothing can be
    prescribed stands in ``without`` with the reason."""

    land: Property | None = field(repr=False, metadata={"inner": True})
    on: dt.date
    rulebook_version: str
    stands: tuple[Advice, ...]
    calendar: tuple[Due, ...]
    prescriptions: tuple[NamedAnswer[Prescription], ...]
    without: dict[str, str]


def management_plan(ask: Question, land: str = "", progress: Callable[[int], bool] | None = None) -> ManagementPlan:
    """The plan of a property; of the only one of the book where none is named. Raises NotFound when the book holds no
    stand of it; Misuse when the book holds several properties and none is named, or the work was stopped."""
    lands = places.lands()
    named = land or _only_one(lands)
    listed = [stand.stand for stand in session.stands() if stand.property == named]
    if not listed:
        raise NotFound(
            f"the book holds no stand of {named!r}.", remedy=f"It holds {', '.join(lands) or 'no property'}."
        )
    made: list[NamedAnswer[Prescription]] = []
    without: dict[str, str] = {}
    for place, name in enumerate(listed, start=1):
        try:
            made.append(prescribing.answer_of(name, ask))
        except OverwoodError as fault:
            without[name] = str(fault)
        if progress and not progress(place):
            raise Misuse("the plan was stopped.", remedy="Nothing was written; ask for it again.")
    standing = answers.property_standing(ask)
    return ManagementPlan(
        land=lands.get(named),
        on=ask.on,
        rulebook_version=ask.rules.version,
        stands=tuple(one.advice for one in standing.judged if one.advice.stand in listed),
        calendar=tuple(row for row in calendar_of(standing, ask.on, _years_on(ask.on)) if row.stand in listed),
        prescriptions=tuple(made),
        without=without,
    )


def _only_one(lands: Mapping[str, Property]) -> str:
    if len(lands) > 1:
        raise Misuse(
            f"the book holds {len(lands)} properties: {', '.join(lands)}.", remedy="Name the one that the plan is for."
        )
    return next(iter(lands), "")


def _years_on(day: dt.date) -> dt.date:
    """The same day some years on; the first of March for a leap day."""
    leap = (day.month, day.day) == (2, 29)
    return dt.date(day.year + _YEARS, 3, 1) if leap else day.replace(year=day.year + _YEARS)
