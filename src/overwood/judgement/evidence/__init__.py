"""Records to figures, one file a subject; every figure of a stand by name."""

from __future__ import annotations

import datetime as dt
from functools import partial

from overwood.ground.doubt import Doubt
from overwood.ground.figure import Figure, Figures, doubted
from overwood.ground.records import StandFile, Visit
from overwood.judgement.evidence import acorns, deer, light, oak_verdict, overstory, reproduction
from overwood.judgement.rules import Rules

# Figures that rest on other visits than the cruise.
_NOT_OF_THE_VISIT = ("age_yr", "site_index_ft", "small_crown_share")
_MOST_DISPUTES = 3
_LAYERS = {"cruise": "Trees", "reproduction": "Floor"}


def basis(file: StandFile) -> tuple[str, ...]:
    """Which visits the figures rest on, in words."""
    decides = {what: file.latest(kind) for kind, what in _LAYERS.items()}
    return tuple(
        f"{what}: {visit.visit}, {visit.visited_on:%d %b %Y}, {_points(file, visit)}"
        for what, visit in decides.items()
        if visit is not None
    )


def set_aside(file: StandFile) -> tuple[Doubt, ...]:
    """What the figures leave out: records in dispute, and newer visits that cover too little to replace the one that
    decides."""
    return (*_disputes(file), *(doubt for kind in _LAYERS for doubt in _short(file, kind)))


def _disputes(file: StandFile) -> list[Doubt]:
    """What rivals claim and nobody has settled."""
    if not file.conflicts:
        return []
    shown, more = ", ".join(file.conflicts[:_MOST_DISPUTES]), len(file.conflicts) - _MOST_DISPUTES
    rest = f" and {more} more" if more > 0 else ""
    return [Doubt("disputed", {"records": shown + rest})]


def _left_out(file: StandFile, kind: str) -> tuple[Doubt, ...]:
    """What the figures of one kind of visit leave out."""
    return (*_disputes(file), *_short(file, kind))


def _short(file: StandFile, kind: str) -> list[Doubt]:
    decides, short = file.deciding(kind)
    code = "visit_too_small" if decides else "visit_no_look"
    instead = {"decides": decides.visit, "decides_by": _points(file, decides)} if decides else {}
    return [
        Doubt(code, {"visit": visit.visit, "on": visit.visited_on, "points": _points(file, visit), **instead})
        for visit in short
    ]


def _noted(figures: Figures, doubts: tuple[Doubt, ...]) -> Figures:
    """The figures with what was set aside; the verdict's own doubts tell of its margin alone."""
    if not doubts:
        return figures
    noted, untouched = Figures(), (*oak_verdict.NAMES, *_NOT_OF_THE_VISIT)

    def told(name: str) -> dict[str, Figure]:
        figure = figures[name]
        return {name: doubted(figure, doubts) if figure.measured and name not in untouched else figure}

    for name in figures:
        noted.add((name,), partial(told, name))
    return noted


def _points(file: StandFile, visit: Visit) -> str:
    if visit.kind == "stem map":
        return "a map of every stem"
    points = file.look_points(visit)
    return f"{points:.0f} point{'' if points == 1 else 's'}"


def all_figures(file: StandFile, rules: Rules, on: dt.date) -> dict[str, Figure]:
    """Everything the records of a stand support on a day."""
    return dict(figures_asked(file.as_of(on), rules, on))


def figures_asked(known: StandFile, rules: Rules, on: dt.date) -> Figures:
    """The same, each worked out when it is first asked for, of records as they were known on the day."""
    figures = Figures().take(_noted(overstory.figures(known, rules, on), _left_out(known, "cruise")))
    figures.add(light.NAMES, lambda: light.figures(known, rules, figures))
    figures.take(_noted(reproduction.figures(known, rules, figures), _left_out(known, "reproduction")))
    figures.add((deer.NAME,), lambda: {deer.NAME: deer.fence_figure(known, rules)})
    return figures.take(acorns.figures(known, rules, on))
