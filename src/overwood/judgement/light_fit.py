"""One parameter of the light field fitted to the user's own readings: a scale on every crown's extinction."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block, field_of

_STEPS = 24


@dataclass(frozen=True)
class Fit:
    """The scale that brings the mean of the map to the mean of the readings, with what the readings leave open."""

    readings_pct: float
    readings: int
    before_pct: float
    after_pct: float
    scale: float
    scale_low: float | None
    scale_high: float | None
    in_range: bool

    @property
    def before_error_pct(self) -> float:
        """Points by which the map was off."""
        return self.before_pct - self.readings_pct

    @property
    def after_error_pct(self) -> float:
        """Points by which the fitted map is off."""
        return round(self.after_pct - self.readings_pct, 2) + 0.0

    @property
    def overlay(self) -> str:
        """The lines of an office's overlay that put the fit to use."""
        return f'[extinction_scale]\nvalue = {self.scale:.3f}\nnote = "fitted to {self.readings} light readings"\n'


def fit_extinction(block: Block, readings: Figure, rules: Rules) -> Fit:
    """Fit the scale to the mean of light readings taken under the trees of the map.

    Raises
    ------
    NotFound
        when there are no readings.
    """
    if "field" not in readings.sources:
        raise NotFound(
            f"there are no light readings of {block.visit}'s stand that hold for what stands now.",
            remedy="Bring readings in with the sheet light_readings; twenty or more, spread over the block, under an even sky.",
        )
    rule = rules["extinction_scale"]
    widest = (rule.number / 10, rule.number * 10)

    def mean_pct(scale: float) -> float:
        dimmed = replace(block, crowns=replace(block.crowns, k=block.crowns.k * (scale / rule.number)))
        return 100 * float(field_of(dimmed, block.overwood | block.midstory, rules, 1.0).mean())

    def solved(wanted: float | None) -> float | None:
        return None if wanted is None else _bisect(mean_pct, wanted, *widest)

    scale = _bisect(mean_pct, readings.number, *widest)
    return Fit(
        readings_pct=readings.number,
        readings=readings.n or 0,
        before_pct=mean_pct(rule.number),
        after_pct=mean_pct(scale),
        scale=scale,
        # More light is less extinction, so the ends change places.
        scale_low=solved(readings.high),
        scale_high=solved(readings.low),
        in_range=(rule.low or 0.0) <= scale <= (rule.high or float("inf")),
    )


def _bisect(falling: Callable[[float], float], wanted: float, low: float, high: float) -> float:
    """Where a falling function meets a value, or the end nearest to it."""
    for _ in range(_STEPS):
        middle = (low * high) ** 0.5
        low, high = (middle, high) if falling(middle) > wanted else (low, middle)
    return float((low * high) ** 0.5)
