"""Which species other than oak stand ready on a stand's floor and in its midstory, by its own tally."""

from __future__ import annotations

from collections import Counter

import numpy as np

from overwood.ground.records import StandFile
from overwood.ground.species import UNKNOWN, by_code
from overwood.judgement.evidence.layers import midstory_mask
from overwood.judgement.evidence.tally import cruise_of
from overwood.judgement.rules import Rules

_NAMED = 2


def rivals(file: StandFile, rules: Rules) -> tuple[str, ...]:
    """The two species other than oak with most stems in the latest count, else in the cruise's midstory; none where
    none was tallied."""
    stems = _on_the_floor(file) or _in_the_midstory(file, rules)
    return tuple(by_code(code).common_name for code, _ in stems.most_common(_NAMED))


def words(file: StandFile, rules: Rules) -> str:
    """Them in words; trees other than oak where none was tallied."""
    return " and ".join(rivals(file, rules)) or "trees other than oak"


def _on_the_floor(file: StandFile) -> Counter[int]:
    visit = file.latest("reproduction")
    stems: Counter[int] = Counter()
    for line in file.seedlings:
        if visit is not None and line.visit == visit.visit and _is_rival(line.species):
            stems[line.species] += line.stems
    return stems


def _in_the_midstory(file: StandFile, rules: Rules) -> Counter[int]:
    visit = file.latest("midstory")
    stems: Counter[int] = Counter()
    if visit is None:
        return stems
    cruise = cruise_of(file, visit)
    for place in np.flatnonzero(midstory_mask(cruise, rules)):
        if _is_rival(int(cruise.spcd[place])):
            stems[int(cruise.spcd[place])] += float(cruise.per_ac[place])  # type: ignore[assignment]
    return stems


def _is_rival(code: int) -> bool:
    return code != UNKNOWN and not by_code(code).is_oak
