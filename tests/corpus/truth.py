"""What was seen in the woods, before anybody wrote it into a sheet; sums by plain arithmetic, without the program.

Basal area of a stem: 0.005454154 d2 ft2 for d in inches, which is pi / (4 * 144) (geometry).
A prism counts its factor a stem, and 1 / stem basal area trees an acre for each ft2 of it (L. R. Grosenbaugh, 1952,
Journal of Forestry 50: 32-37, from memory of it); a fixed plot counts 1 / area.
"""

from __future__ import annotations

import collections
import datetime as dt
import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

FT2_PER_IN2 = math.pi / 4 / 144
IN_PER_CM = 1 / 2.54
FT_PER_M = 1 / 0.3048
AC_PER_M2 = 1 / 4046.8564224
OAKS_AND_OTHERS = (802, 837, 832, 621, 316, 693)
NAMES = {
    802: "white oak", 833: "northern red oak", 837: "black oak", 832: "chestnut oak", 806: "scarlet oak", 621: "yellow-poplar",
    316: "red maple", 318: "sugar maple", 693: "blackgum", 403: "pignut hickory", 541: "white ash", 931: "sassafras", 711: "sourwood",
}  # fmt: skip
LETTERS = {802: "WO", 837: "BO", 832: "CO", 621: "YP", 316: "RM", 693: "BG", 806: "SO", 318: "SM", 541: "WA"}
# USDA PLANTS symbols, as the FIA species list gives them.
SYMBOLS = {802: "QUAL", 833: "QURU", 837: "QUVE", 832: "QUPR2", 621: "LITU", 316: "ACRU", 403: "CAGL8", 541: "FRAM2", 931: "SAAL5"}
LATIN = {802: "Quercus alba", 833: "Quercus rubra", 837: "Quercus velutina", 621: "Liriodendron tulipifera", 316: "Acer rubrum"}


@dataclass(frozen=True, kw_only=True)
class Stem:
    """One line of a tree tally; ``layer`` names the ring that took it in."""

    point: str
    species: int
    dbh_in: float
    stems: int = 1
    dead: bool = False
    cull: bool = False
    layer: str = "overstory"
    crown: str = ""
    height_ft: float | None = None


@dataclass(frozen=True, kw_only=True)
class Young:
    """One line of a count of young stems."""

    point: str
    species: int
    height_class: str = ""
    stems: int = 1
    height_ft: float | None = None


@dataclass(frozen=True, kw_only=True)
class Size:
    """How stems were taken in at one point: by a prism's factor or on a plot."""

    baf_ft2_ac: float | None = None
    plot_area_ac: float | None = None


@dataclass(frozen=True, kw_only=True)
class Look:
    """One visit to one stand: what was looked at, the empty places too."""

    stand: str = "K1"
    on: dt.date = dt.date(2025, 5, 14)
    kind: str = "cruise"
    points: Sequence[str] = ()
    stems: Sequence[Stem] = ()
    young: Sequence[Young] = ()
    size: Size = Size(baf_ft2_ac=10.0)
    # A size of its own by point, and by layer, where the sheet says so.
    by_point: Mapping[str, Size] = field(default_factory=dict)
    by_layer: Mapping[str, Size] = field(default_factory=dict)
    fenced: frozenset[str] = frozenset()
    # Live crown ratio of every tree, where the sheet has it.
    crown_ratio_pct: float | None = None

    def size_at(self, stem: Stem) -> Size:
        return self.by_layer.get(stem.layer) or self.by_point.get(stem.point) or self.size

    @property
    def empty(self) -> set[str]:
        """Points that were looked at and held nothing."""
        return set(self.points) - {one.point for one in (*self.stems, *self.young)}

    @property
    def ba_ft2_ac(self) -> float:
        """Basal area of live stems, mean over the points."""
        return self._mean(lambda stem: FT2_PER_IN2 * stem.dbh_in**2)

    @property
    def trees_ac(self) -> float:
        """Live stems an acre, mean over the points."""
        return self._mean(lambda stem: 1.0)

    def _mean(self, worth) -> float:
        total = 0.0
        for stem in self.stems:
            if stem.dead:
                continue
            size = self.size_at(stem)
            an_acre = size.baf_ft2_ac / (FT2_PER_IN2 * stem.dbh_in**2) if size.baf_ft2_ac else 1 / size.plot_area_ac
            total += stem.stems * an_acre * worth(stem)
        return total / len(self.points)

    @property
    def counts(self) -> collections.Counter:
        """Stems by point, species and diameter to a tenth of an inch."""
        found: collections.Counter = collections.Counter()
        for stem in self.stems:
            found[stem.point, stem.species, round(stem.dbh_in, 1), stem.dead] += stem.stems
        return found

    @property
    def young_counts(self) -> collections.Counter:
        """Young stems by plot, species and class, or height to a tenth of a foot."""
        found: collections.Counter = collections.Counter()
        for one in self.young:
            tall = one.height_class or round(one.height_ft, 1)
            found[one.point, one.species, tall] += one.stems
        return found


def cruise(seed: int, points: int = 10, *, species: Sequence[int] = OAKS_AND_OTHERS, empty: int = 1, low: float = 6, high: float = 26):
    """Points and stems of a made-up cruise, diameters to a tenth of an inch; the last ``empty`` points hold nothing."""
    chance = random.Random(seed)
    names = [str(number) for number in range(1, points + 1)]
    stems = [
        Stem(point=name, species=chance.choice(species), dbh_in=round(chance.uniform(low, high), 1))
        for name in names[: points - empty]
        for _ in range(chance.randint(3, 8))
    ]
    return names, stems


CLASSES = ("<0.5", "0.5-1", "1-3", "3-4.5", "4.5-10", "10+")


def young_count(seed: int, plots: int = 12, *, species: Sequence[int] = OAKS_AND_OTHERS, empty: int = 2, classes: Sequence[str] = CLASSES):
    """Plots and young stems of a made-up count; one line a species and class; the last ``empty`` plots hold nothing."""
    chance = random.Random(seed)
    names = [str(number) for number in range(1, plots + 1)]
    lines = []
    for name in names[: plots - empty]:
        pairs = [(code, tall) for code in species for tall in classes]
        lines += [
            Young(point=name, species=code, height_class=tall, stems=chance.randint(1, 9))
            for code, tall in sorted(chance.sample(pairs, chance.randint(2, min(5, len(pairs)))))
        ]
    return names, lines
