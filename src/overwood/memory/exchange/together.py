"""The sheets of one file held against each other: rings of one visit, and counts of young stems on plots of one
size."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from overwood.ground.errors import Problem
from overwood.memory.exchange import applying, plot_kinds
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.sheets import Read, fates_of, none_of, refused_rows


def with_rings_apart(made: Sequence[Read]) -> list[Read]:
    """Tree sheets of the same points are rings of one visit: their layers must differ, and their sizes be told.

    Where they share neither points nor kind of visit, nothing more is asked.
    """
    trees = [
        (place, one.ready) for place, one in enumerate(made) if one.ready is not None and one.ready.table == "trees"
    ]
    needed: dict[int, set[str]] = {}
    alike: dict[int, str] = {}
    for number, (place, one) in enumerate(trees):
        for other_place, other in trees[number + 1 :]:
            if one.kind != other.kind or not _points_of(one) & _points_of(other):
                continue
            for at, ring in ((place, one.ring), (other_place, other.ring)):
                same = one.ring.get("layer") == other.ring.get("layer")
                limit = "high_dbh_in" if ring.get("layer") == "midstory" else "low_dbh_in"
                needed.setdefault(at, set()).update({"layer", limit} if same else {limit})
            if _may_be_twice(one, other):
                alike.setdefault(other_place, one.sheet)
    asked = [_with_needed(one, needed.get(place, set())) for place, one in enumerate(made)]
    return [_with_alike(one, alike[place]) if place in alike else one for place, one in enumerate(asked)]


def _may_be_twice(one: applying.Ready, other: applying.Ready) -> bool:
    """Whether two sheets of the same points were said to be of one layer, and their sizes overlap."""
    if one.ring.get("layer") != other.ring.get("layer") or not all(r.ring.get("low_dbh_in") for r in (one, other)):
        return False
    spans = [
        (float(r.ring["low_dbh_in"]), float(r.ring.get("high_dbh_in") or "inf"), r.ring.get("layer"))
        for r in (one, other)
    ]
    return max(low for low, *_ in spans) < min(high for _, high, _ in spans)


def _with_alike(one: Read, other: str) -> Read:
    """A sheet with the question whether it is part of the tally of another."""
    assert one.said is not None
    sheet, told = one.proposal.sheet, one.said.setting("sheets_together")
    question = Question(
        key=one.said.key("sheets_together"), kind="set", sheet=sheet, answer=told if told == "together" else "",
        text=(f"{other!r} and {sheet!r} hold trees of one layer and of the same sizes, at the same points on one day: "
            "are they parts of one tally? If not, give each a day of its own, or leave one out."),
        choices=(Choice("together", "parts of one tally: the trees of both stand on each point"),),
    )  # fmt: skip
    shown = dataclasses.replace(one.proposal, questions=(*one.proposal.questions, question))
    return dataclasses.replace(one, proposal=shown)


def with_counts_alike(made: Sequence[Read]) -> list[Read]:
    """Sheets of young stems of one visit hold plots of one size: those of another size are refused whole, with one
    fault a sheet."""
    kept: list[Read] = []
    sizes: dict[tuple[str, str], tuple[str, str]] = {}
    for one in made:
        ready = one.ready
        size = ready.ring.get("plot_area_ac", "") if ready is not None and ready.table == "seedlings" else ""
        if ready is None or not size:
            kept.append(one)
            continue
        visits = {(stand, day) for stand, day, _ in _points_of(ready)}
        other = next((sizes[visit][0] for visit in visits if visit in sizes and sizes[visit][1] != size), "")
        kept.append(_stopped(one, plot_kinds.other_size(ready.file, ready.sheet, size, other)) if other else one)
        sizes |= {} if other else dict.fromkeys(visits, (ready.sheet, size))
    return kept


def with_plots_apart(made: Sequence[Read]) -> list[Read]:
    """Sheets of young stems that share plots of one visit, with the question whether those are the same plots: inside
    and outside a fence, plots of one number are two."""
    kept: list[Read] = []
    seen: dict[tuple[str, str, str], str] = {}
    for one in made:
        ready, said = one.ready, one.said
        if ready is None or said is None or ready.table != "seedlings":
            kept.append(one)
            continue
        points = _points_of(ready)
        other = next(
            (
                seen[point]
                for point in sorted(points)
                if seen.get(point, said.within or ready.sheet) != (said.within or ready.sheet)
            ),
            "",
        )
        seen |= dict.fromkeys(points, said.within or ready.sheet)
        kept.append(_with_same_plots(one, other) if other else one)
    return kept


def _with_same_plots(one: Read, other: str) -> Read:
    assert one.said is not None and one.ready is not None
    sheet, told = one.proposal.sheet, one.said.setting("same_plots")
    question = Question(
        key=one.said.key("same_plots"), kind="set", sheet=sheet, answer=told if told in ("same", "other") else "",
        text=f"{other!r} and {sheet!r} hold young stems on plots of the same names: are they the same plots?",
        choices=(Choice("same", "the stems of both stand on each"),
            Choice("other", f"they are others: {sheet} stands behind their names")),
    )  # fmt: skip
    shown = dataclasses.replace(one.proposal, questions=(*one.proposal.questions, question))
    lines, at = one.ready.lines, one.ready.lines.place("point")
    if told == "other" and at >= 0:
        lines = lines.changed(lambda name: f"{name} {sheet}" if name else name, at)
    return dataclasses.replace(one, proposal=shown, ready=dataclasses.replace(one.ready, lines=lines))


def _stopped(one: Read, problem: Problem) -> Read:
    """A sheet none of whose lines comes in."""
    assert one.ready is not None
    lines = one.ready.lines
    fates = fates_of(one.ready.sheet, dataclasses.replace(lines, lines=()), refused_rows(lines))
    ready = dataclasses.replace(one.ready, lines=none_of(lines))
    shown = dataclasses.replace(one.proposal, fates=fates, points=0, lines=0)
    return dataclasses.replace(one, proposal=shown, ready=ready, problems=(*one.problems, problem))


def _points_of(ready: applying.Ready) -> set[tuple[str, str, str]]:
    return {
        (ready.value(one, "stand"), ready.value(one, "visited_on"), ready.value(one, "point"))
        for one in ready.every_line
    }


def _with_needed(one: Read, names: set[str]) -> Read:
    if not names:
        return one
    questions = tuple(
        dataclasses.replace(question, needed=True, default="") if question.key.rpartition(".")[2] in names else question
        for question in one.proposal.questions
    )
    return dataclasses.replace(one, proposal=dataclasses.replace(one.proposal, questions=questions))
