"""One parameter of the light field fitted to the user's own readings: a scale on every crown's extinction."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overwood.ground import light_devices
from overwood.ground.errors import BadRecords, NotFound
from overwood.ground.records import LightReading
from overwood.ground.units import FT_PER_M
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block, field_of, openness_of

Array = NDArray[np.float64]
# The scale is looked for from a tenth to ten times the default, at first by even steps of its logarithm.
_TRIED, _WIDEST, _HALVINGS = 25, 10.0, 40
# Light maps of a fit: nodes of the polynomial between them.
_MAPS = 17


@dataclass(frozen=True)
class Fit:
    """The scale that brings the map nearest to the readings, and what the readings leave open.

    Errors are root mean squares; where readings have no place on the map, each is set against the map's mean.
    """

    readings_pct: float
    readings: int
    placed: int
    kinds: tuple[str, ...]
    before_pct: float
    after_pct: float
    before_rms_pct: float
    after_rms_pct: float
    scale: float
    scale_low: float | None
    scale_high: float | None
    in_range: bool

    @property
    def before_error_pct(self) -> float:
        """Points by which the map was off in the mean."""
        return self.before_pct - self.readings_pct

    @property
    def after_error_pct(self) -> float:
        """Points by which the fitted map is off in the mean."""
        return round(self.after_pct - self.readings_pct, 2) + 0.0

    @property
    def overlay(self) -> str:
        """The lines of an office's overlay that put the fit to use."""
        return f'[extinction_scale]\nvalue = {self.scale:.3f}\nnote = "fitted to {self.readings} light readings"\n'


def fit_extinction(block: Block, readings: Sequence[LightReading], rules: Rules) -> Fit:
    """Fit the scale to readings of light (sensors) or openness (densiometer, photo) taken under the trees of the map.
    Raises NotFound when there are no readings; BadRecords when openness was read with a device of no known kind:
    nothing says how much of the sky it saw."""
    if not readings:
        raise NotFound(
            f"there are no light readings of {block.visit}'s stand that hold for what stands now.",
            remedy=(
                "Bring readings in with the sheet light_readings; twenty or more, spread over the block, under "
                "an even sky."
            ),
        )
    rule, seen = rules["extinction_scale"], np.array([row.light_pct for row in readings])

    def modelled(scale: float) -> Array:
        dimmed = replace(
            block,
            crowns=replace(
                block.crowns, k=block.crowns.k * (scale / rule.number), fixed=_scaled(block, scale, rule.number)
            ),
        )
        return _at(dimmed, readings, rules)

    smooth = _between(modelled, rule.number)

    def wrong(scale: float) -> float:
        return float(((smooth(scale) - seen) ** 2).sum())

    scale = _lowest(wrong, rule.number)
    low, high = _span(wrong, scale, len(seen), rules.number("interval_level"), rule.number)
    before, after = modelled(rule.number), modelled(scale)
    return Fit(
        readings_pct=float(seen.mean()),
        readings=len(readings),
        placed=sum(_placed(row) for row in readings),
        kinds=tuple(dict.fromkeys(_kind(row) for row in readings)),
        before_pct=float(before.mean()),
        after_pct=float(after.mean()),
        before_rms_pct=float(np.sqrt(((before - seen) ** 2).mean())),
        after_rms_pct=float(np.sqrt(((after - seen) ** 2).mean())),
        scale=scale,
        scale_low=low,
        scale_high=high,
        in_range=(rule.low or 0.0) <= scale <= (rule.high or float("inf")),
    )


def _scaled(block: Block, scale: float, base: float) -> Array:
    return np.asarray(block.crowns.fixed * (scale / base))


def _kind(row: LightReading) -> str:
    """The kind of reading: light, or the part of the sky seen by its device, as a code of the table of devices."""
    if row.measures != "openness":
        return "light"
    kind = light_devices.kind_of(row.device)
    if kind is None:
        raise BadRecords(
            f"the openness at {row.visit} {row.point} was read with {row.device or 'no named device'}: "
            "densiometer or photo, "
            "for they see unlike parts of the sky.",
            remedy=(
                "Name the device in column device of the sheet light_readings, as spherical densiometer or "
                "fisheye photo."
            ),
        )
    return kind


def _placed(row: LightReading) -> bool:
    return row.east_ft is not None and row.north_ft is not None


def _at(block: Block, readings: Sequence[LightReading], rules: Rules) -> Array:
    """What the map gives for each reading, percent: at its place, or the mean where it has none."""
    everything, core = block.overwood | block.midstory, block.core(rules)
    fields = {}
    for kind in {_kind(row) for row in readings}:
        if kind == "light":
            fields[kind] = field_of(block, everything, rules, 1.0)
        else:
            fields[kind] = openness_of(block, everything, rules, rules.number(light_devices.sky_rule(kind)))
    raster = block.raster(rules)
    percents = []
    for row in readings:
        field = fields[_kind(row)]
        if _placed(row):
            assert row.east_ft is not None and row.north_ft is not None
            percents.append(float(field[raster.cell(row.east_ft / FT_PER_M, row.north_ft / FT_PER_M)]))
        else:
            percents.append(float(field[core].mean()))
    return 100 * np.array(percents)


def _between(modelled: Callable[[float], Array], base: float) -> Callable[[float], Array]:
    """The modelled readings at any scale from a few light maps: they are smooth in the logarithm of the scale.

    Polynomials through Chebyshev nodes; with 17 nodes no reading of the demo's map is off by 0.0001 points.
    """
    from scipy import interpolate

    nodes = np.cos(np.pi * np.arange(_MAPS) / (_MAPS - 1))
    through = interpolate.BarycentricInterpolator(
        nodes, np.array([modelled(base * _WIDEST ** float(node)) for node in nodes])
    )
    return lambda scale: np.asarray(through(np.log(scale / base) / np.log(_WIDEST)))


def _lowest(wrong: Callable[[float], float], base: float) -> float:
    """Where the error is least: even steps of the logarithm, then ever closer about the best."""
    steps = base * np.exp(np.linspace(-np.log(_WIDEST), np.log(_WIDEST), _TRIED))
    best = int(np.argmin([wrong(float(step)) for step in steps]))
    low, high = float(steps[max(best - 1, 0)]), float(steps[min(best + 1, _TRIED - 1)])
    from scipy import optimize

    return float(optimize.minimize_scalar(wrong, bounds=(low, high), method="bounded", options={"xatol": 1e-6}).x)


def _span(
    wrong: Callable[[float], float], scale: float, n: int, level: float, base: float
) -> tuple[float | None, float | None]:
    """Scales whose error is no greater than chance would make it; None where the readings leave that end open."""
    if n < 2:
        return None, None
    from scipy import stats

    most = wrong(scale) * (1 + float(stats.t.ppf(0.5 + level / 2, n - 1)) ** 2 / (n - 1))
    return _crossing(wrong, scale, base / _WIDEST, most), _crossing(wrong, scale, base * _WIDEST, most)


def _crossing(wrong: Callable[[float], float], inside: float, end: float, most: float) -> float | None:
    if wrong(end) <= most:
        return None
    for _ in range(_HALVINGS):
        middle = (inside * end) ** 0.5
        inside, end = (middle, end) if wrong(middle) <= most else (inside, middle)
    return float((inside * end) ** 0.5)
