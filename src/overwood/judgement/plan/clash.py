"""Why no plan keeps every limit: the smallest set of limits that clash, found by leaving them out one by one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from overwood.judgement.plan.model import Model, settled, without
from overwood.judgement.plan.rows import KINDS, ONE, Key
from overwood.judgement.plan.solving import Solver, solve


@dataclass(frozen=True)
class Clash:
    """Limits of which any one may be loosened so that the others can be kept; ``years`` are first years of periods,
    from 0."""

    kind: str
    subject: str
    years: tuple[int, ...]


def clash_of(model: Model, solver: Solver) -> tuple[Clash, ...]:
    """The smallest clashing set of a model without a plan: no limit of it can be left in with all the others.

    Limits of a kind and subject are tried whole first, then year by year; one course a stand is no limit and always
    stays.
    """
    model = settled(model)
    limits = [key for key in model.keys if key.kind != ONE]
    whole = sorted({(KINDS.index(key.kind), key.subject) for key in limits})
    groups = [[key for key in limits if (KINDS.index(key.kind), key.subject) == one] for one in whole]
    groups_left = _filtered(model, groups, solver)
    by_year = _filtered(_only(model, groups_left), [[key] for group in groups_left for key in group], solver)
    return _told([key for group in by_year for key in group])


def _filtered(model: Model, groups: list[list[Key]], solver: Solver) -> list[list[Key]]:
    """The deletion filter (from memory of Chinneck and Dravnieks 1991, ORSA Journal on Computing 3:157-168): a group
    without which there is still no plan is left out for good."""
    return shrunk(groups, lambda left: _has_plan(_only(model, left), solver))


def shrunk(parts: Sequence[list[Key]], holds: Callable[[list[list[Key]]], bool]) -> list[list[Key]]:
    """The parts that stay when each is left out in turn as long as ``holds`` stays false."""
    left = list(parts)
    for part in parts:
        fewer = [one for one in left if one is not part]
        if not holds(fewer):
            left = fewer
    return left


def _only(model: Model, groups: Sequence[Sequence[Key]]) -> Model:
    """The model with these limits alone."""
    stays = {key for group in groups for key in group}
    return without(model, {key for key in model.keys if key.kind != ONE and key not in stays})


def _has_plan(model: Model, solver: Solver) -> bool:
    return solve(model, np.zeros(len(model.columns)), solver) is not None


def _told(keys: Sequence[Key]) -> tuple[Clash, ...]:
    years_of: dict[tuple[str, str], list[int]] = {}
    for key in keys:
        years_of.setdefault((key.kind, key.subject), []).append(key.year)
    return tuple(
        Clash(kind, subject, tuple(sorted(year for year in years if year >= 0)))
        for (kind, subject), years in years_of.items()
    )
