"""What a look from above comes to: proposed crowns and gaps, what it missed, light with the cruise's small stems, and
what it is refused for.

Crowns are proposals. They are no records, stand in no figure, and no gate and no marking reads them.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import ClassVar

from overwood.ground.figure import Figure

PROPOSED, ONE_TREE, SEVERAL, NO_TREE = "proposed", "one tree", "several trees", "no tree"
VERDICTS = (ONE_TREE, SEVERAL, NO_TREE)


@dataclass(frozen=True, kw_only=True)
class CanopyCrown:
    """One crown seen from above; ``verdict`` is what a person found below it, species and dbh (inches) are that
    person's."""

    number: int
    longitude_deg: float
    latitude_deg: float
    height_ft: float
    area_ft2: float
    verdict: str = PROPOSED
    species: int | None = None
    dbh_in: float | None = None
    checked_by: str = ""
    checked_on: dt.date | None = None

    @property
    def radius_ft(self) -> float:
        """Radius of a circle of the area seen."""
        return math.sqrt(self.area_ft2 / math.pi)

    TOLD: ClassVar = ("radius_ft",)


@dataclass(frozen=True, kw_only=True)
class CanopyGap:
    """Ground with nothing tall over it."""

    number: int
    longitude_deg: float
    latitude_deg: float
    area_ac: float


@dataclass(frozen=True, kw_only=True)
class SizeSeen:
    """Crowns from above and trees of the cruise of one height class, an acre; ``to_ft`` is None for the tallest
    class."""

    from_ft: float
    to_ft: float | None
    crowns_ac: float
    trees_ac: Figure


@dataclass(frozen=True, kw_only=True)
class CanopyLight:
    """Light on the floor by crowns from above and the cruise's small stems, percent of full sun: mean, and the span
    nine draws in ten fall in, each end moved out by the model's own error."""

    mean_pct: float
    low_pct: float
    high_pct: float
    draws: int
    looked_at_share: float
    crowns_ac: float
    small_stems_ac: float
    method: str


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """A question that a look from above does not answer, with its reason as a code and in words."""

    question: str
    reason: str
    words: str


@dataclass(frozen=True, kw_only=True)
class GroundCheck:
    """What people found below the crowns they looked at."""

    checked: int
    one_tree: int
    several: int
    no_tree: int
    needed: int
    one_tree_share: float | None
    low_share: float | None
    high_share: float | None


@dataclass(frozen=True, kw_only=True)
class CanopyMap:
    """A stand seen from above."""

    stand: str
    file: str
    file_digest: str
    kind: str
    flown_on: dt.date
    unit: str
    cell_m: float
    acres: float
    seen_share: float
    crowns: tuple[CanopyCrown, ...]
    gaps: tuple[CanopyGap, ...]
    crowns_ac: float
    covered_share: float
    gap_share: float
    sizes: tuple[SizeSeen, ...]
    light: CanopyLight | None
    light_lacking: str
    floor_light: Figure
    unseen: tuple[str, ...]
    refusals: tuple[Refusal, ...]
    check: GroundCheck
    notes: tuple[str, ...]
    rules_version: str
