"""What people find below proposed crowns: one tree, several, or none; until enough were looked at no share is told."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from overwood.ground.errors import Misuse, NotFound
from overwood.judgement.canopy.answer import (
    NO_TREE,
    ONE_TREE,
    PROPOSED,
    SEVERAL,
    VERDICTS,
    CanopyCrown,
    CanopyMap,
    GroundCheck,
)
from overwood.judgement.rules import Rules
from overwood.science import intervals


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What a person found below one crown."""

    crown: int
    verdict: str
    species: int | None = None
    dbh_in: float | None = None


def ground_check(crowns: Sequence[CanopyCrown], rules: Rules) -> GroundCheck:
    """How many of the crowns looked at are one tree; the share only once enough were."""
    count = {verdict: sum(crown.verdict == verdict for crown in crowns) for verdict in VERDICTS}
    checked, needed = sum(count.values()), int(rules.number("canopy_checked_crowns"))
    enough = checked >= needed
    low, high = _share_span(count[ONE_TREE], checked, rules) if enough else (None, None)
    return GroundCheck(
        checked=checked,
        one_tree=count[ONE_TREE],
        several=count[SEVERAL],
        no_tree=count[NO_TREE],
        needed=needed,
        one_tree_share=count[ONE_TREE] / checked if enough else None,
        low_share=low,
        high_share=high,
    )


def _share_span(hits: int, checked: int, rules: Rules) -> tuple[float, float]:
    looked = np.zeros(checked)
    looked[:hits] = 1.0
    return intervals.share_interval(looked, np.ones(checked), level=rules.number("interval_level"))


def checked_map(canopy_map: CanopyMap, verdicts: Iterable[Verdict], rules: Rules, *, by: str, on: dt.date) -> CanopyMap:
    """A map with what a person found below some of its crowns; the other crowns stay as they are. Raises Misuse when a
    verdict, a dbh or the name of the person cannot be taken, or one crown has two verdicts; NotFound when the map has
    no such crown."""
    if not by.strip():
        raise Misuse("it is not said who looked.", remedy="Give a name.")
    crowns = {crown.number: crown for crown in canopy_map.crowns}
    said: dict[int, Verdict] = {}
    for one in verdicts:
        if said.setdefault(one.crown, one) != one:
            raise Misuse(f"crown {one.crown} is written down twice, not alike.", remedy="Leave one row for each crown.")
        if one.crown not in crowns:
            raise NotFound(
                f"the map of {canopy_map.stand} has no crown {one.crown}.", remedy=f"Its crowns are 1 to {len(crowns)}."
            )
        crowns[one.crown] = _judged(crowns[one.crown], one, by.strip(), on)
    together = tuple(crowns.values())
    return replace(canopy_map, crowns=together, check=ground_check(together, rules))


def _judged(crown: CanopyCrown, one: Verdict, by: str, on: dt.date) -> CanopyCrown:
    if one.verdict not in VERDICTS:
        raise Misuse(f"crown {one.crown} is said to be {one.verdict!r}.", remedy=f"Use one of {', '.join(VERDICTS)}.")
    if one.verdict != ONE_TREE and (one.species is not None or one.dbh_in is not None):
        raise Misuse(f"crown {one.crown} is {one.verdict}, and has a species or dbh.", remedy="Only one tree has them.")
    if one.dbh_in is not None and not 1 <= one.dbh_in <= 80:
        raise Misuse(f"crown {one.crown} has a dbh of {one.dbh_in:g} in.", remedy="Give inches, 1 to 80.")
    return replace(crown, verdict=one.verdict, species=one.species, dbh_in=one.dbh_in, checked_by=by, checked_on=on)


def carried_over(before: CanopyMap, now: CanopyMap, rules: Rules) -> CanopyMap:
    """A map made again, with what was found below crowns that stand at the same place; the others' verdicts stay with
    the map before."""
    looked_at = {_place(crown): crown for crown in before.crowns if crown.verdict != PROPOSED}
    crowns = tuple(_as_before(crown, looked_at.pop(_place(crown), None)) for crown in now.crowns)
    carried = replace(now, crowns=crowns, check=ground_check(crowns, rules))
    if not looked_at:
        return carried
    note = (
        f"{len(looked_at)} crowns of the map kept before were looked at and are not in this one: what was found "
        "stays with that map"
    )
    return replace(carried, notes=(*carried.notes, note))


def _place(crown: CanopyCrown) -> tuple[float, float, float]:
    """What makes two crowns the same: the same place to a centimeter and the same height: the same file under the same
    assumptions."""
    return round(crown.longitude_deg, 7), round(crown.latitude_deg, 7), round(crown.height_ft, 3)


def _as_before(crown: CanopyCrown, before: CanopyCrown | None) -> CanopyCrown:
    return crown if before is None else replace(before, number=crown.number, area_ft2=crown.area_ft2)
