"""Exact unit factors, and the changes of unit that sheets need; how a value is said stands in ``measures``.

Only definitions live here (the foot is 0.3048 m by international agreement); nothing measured or assumed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

FT_PER_M = 1 / 0.3048
IN_PER_CM = 1 / 2.54
FT2_PER_ACRE = 43_560.0
M2_PER_ACRE = FT2_PER_ACRE / FT_PER_M**2
IN_PER_FT = 12.0
ACRE_PER_HA = 10_000 / (0.3048**2 * 43_560)
LB_PER_KG = 1 / 0.45359237
LB_PER_TON = 2000.0
BF_PER_MBF = 1000.0
ML_PER_GAL = 3785.411784
# Square feet of basal area of a tree one inch in diameter.
FT2_PER_IN2_OF_DBH = math.pi / 4 / 144


@dataclass(frozen=True)
class Conversion:
    """A linear change of unit: ``to = value * factor + offset``."""

    source: str
    target: str
    factor: float
    offset: float = 0.0

    def __call__(self, value: float) -> float:
        return value * self.factor + self.offset

    def back(self, value: float) -> float:
        return (value - self.offset) / self.factor


# What a field sheet may be written in, and the unit the book keeps.
_CONVERSIONS = (
    Conversion("cm", "in", IN_PER_CM),
    Conversion("mm", "in", IN_PER_CM / 10),
    Conversion("m", "in", IN_PER_CM * 100),
    Conversion("0.1 in", "in", 0.1),
    Conversion("ft", "in", 12.0),
    Conversion("m", "ft", FT_PER_M),
    Conversion("cm", "ft", FT_PER_M / 100),
    Conversion("in", "ft", 1 / 12),
    Conversion("yd", "ft", 3.0),
    Conversion("chain", "ft", 66.0),
    Conversion("ha", "ac", ACRE_PER_HA),
    Conversion("m2", "ac", ACRE_PER_HA / 10_000),
    Conversion("ft2", "ac", 1 / FT2_PER_ACRE),
    Conversion("m2/ha", "ft2/ac", FT_PER_M**2 / ACRE_PER_HA),
    Conversion("stems/ha", "stems/ac", 1 / ACRE_PER_HA),
    Conversion("share", "%", 100.0),
    Conversion("tens of %", "%", 10.0),
    Conversion("degC", "degF", 1.8, 32.0),
    Conversion("kg", "lb", LB_PER_KG),
    # Of the trade's log of 16 ft, by which it counts height, and by halves of it.
    Conversion("8-ft logs", "logs", 0.5),
)
_BY_UNITS = {(c.source, c.target): c for c in _CONVERSIONS}


def conversion(source: str, target: str) -> Conversion:
    """The change from one unit to another. Raises KeyError when the two units are not convertible; the message names
    both."""
    if source == target:
        return Conversion(source, target, 1.0)
    if (source, target) in _BY_UNITS:
        return _BY_UNITS[source, target]
    if (target, source) in _BY_UNITS:
        known = _BY_UNITS[target, source]
        return Conversion(source, target, 1 / known.factor, -known.offset / known.factor)
    raise KeyError(f"no conversion from {source!r} to {target!r}")


def units_into(target: str) -> tuple[str, ...]:
    """Every unit that can be turned into ``target``, itself first."""
    into = [c.source for c in _CONVERSIONS if c.target == target]
    into += [c.target for c in _CONVERSIONS if c.source == target]
    return (target, *dict.fromkeys(into))
