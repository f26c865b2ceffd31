"""A thousand acres seen from above, from the file to the crowns; and light below crowns beside the light of maps whose every stem is known."""

from __future__ import annotations

import dataclasses
import datetime as dt
import resource
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

import canopy as made
from overwood.desk import answers, importing, session
from overwood.ground.units import FT_PER_M
from overwood.judgement import stem_map
from overwood.judgement.canopy import Surface
from overwood.judgement.canopy import surface as above
from overwood.judgement.canopy.light import light_from_above
from overwood.judgement.evidence.layers import overwood_mask
from overwood.judgement.evidence.tally import cruise_of
from overwood.judgement.light import drawn_stand
from overwood.judgement.rules import load
from overwood.science.light.crowns import Crowns

_SIDE_M, _APART_M, _ACRES = 2012, 7.0, 5
_DEMO = Path(__file__).resolve().parent.parent / "demo" / "vesperlick"
_STANDS = ("S1", "S3", "S4", "S6", "S7")
_ON = dt.date(2025, 10, 15)


def _thousand_acres() -> np.ndarray:
    """A closed canopy of a thousand acres at a meter."""
    rng = np.random.default_rng(1)
    across = np.arange(_APART_M / 2, _SIDE_M, _APART_M)
    x, y = (axis.ravel() + rng.uniform(-1.5, 1.5, len(across) ** 2) for axis in np.meshgrid(across, across))
    radius, top = rng.uniform(3, 5, len(x)), rng.uniform(18, 30, len(x))
    return made.surface(Crowns(x, y, top - 6, radius, radius, np.full(len(x), 6.0), np.full(len(x), 0.4)), _SIDE_M, _SIDE_M, noise_m=0.5)


def _cpu_s() -> float:
    return sum(
        resource.getrusage(who).ru_utime + resource.getrusage(who).ru_stime for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )


def bench_from_above() -> None:
    """From a GeoTIFF of a thousand acres to crowns, beside the plainest search for tops on the same numbers."""
    import shapely
    from pyproj import Transformer
    from scipy import ndimage

    from overwood.memory.exchange.canopy import read_apart

    heights = _thousand_acres()
    with tempfile.TemporaryDirectory() as folder:
        path = made.geotiff(Path(folder) / "c.tif", heights, strip_m=0.0, unit="metre")
        content = path.read_bytes()
    east, north = Transformer.from_crs(4326, 32622, always_xy=True).transform(-50.0, 37.5)
    back = Transformer.from_crs(32622, 4326, always_xy=True)
    square = shapely.box(east + 1, north + 1, east + _SIDE_M - 1, north + _SIDE_M - 1)
    outline = shapely.transform(square, lambda at: np.column_stack(back.transform(at[:, 0], at[:, 1]))).wkt
    del heights
    before = _cpu_s()
    grid = read_apart({"c.tif": content}, outline)
    surface = Surface(grid.heights_m, grid.inside, grid.cell_m, grid.degrees)
    crowns = above.crowns_around(surface, load())
    gaps = above.gaps(surface, load())
    ours = _cpu_s() - before
    peak = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)) / 1024
    start = time.process_time()
    smooth = ndimage.gaussian_filter(grid.heights_m, 1.0)
    tops = int(((smooth == ndimage.maximum_filter(smooth, 5)) & (smooth > 5)).sum())
    plain = time.process_time() - start
    print(f"{surface.acres:,.0f} acres at 1 m from above: {len(crowns):,} crowns, {len(gaps)} gaps, {ours:.1f} CPU s, peak {peak:.0f} MB")
    print(f"  smoothing and a fixed window alone ({tops:,} tops, no crowns): {plain:.2f} CPU s; ratio {ours / plain:.0f}")


def light_table() -> None:
    """Light of full maps, of crowns with the cruise's other stems, and of crowns alone, % of full sun."""
    rules = load()
    with tempfile.TemporaryDirectory() as folder:
        session.open_book(Path(folder) / "demo.sqlite3", create=True)
        importing.bring_in(_DEMO, today=_ON)
        mapped = answers.stand_file("S2")
        visit = mapped.visits_of("stem map")[-1]
        rows = [("S2, the demo's stem map", mapped, stem_map.block_of(mapped, rules), cruise_of(mapped, visit))]
        rows += [(f"{name}, drawn from its cruise", *_drawn(name, rules)) for name in _STANDS]
        print("stand | stems an acre | crowns an acre | full map | crowns and small stems (span) | crowns alone")
        for title, file, block, census in rows:
            print(" | ".join([title, *_lights(file, block, census, rules)]))


def _drawn(name: str, rules: Any) -> tuple[Any, Any, Any]:
    """A full map of five acres drawn from a stand's cruise, and the census of it."""
    file = answers.stand_file(name)
    visit = file.latest("cruise")
    assert visit, name
    cruise = cruise_of(file, visit)
    wide = rules.with_value("drawn_stand_acres", _ACRES)
    block, source = drawn_stand.draw_block(file, cruise, overwood_mask(cruise, rules), wide, np.random.default_rng(2))
    assert block, name
    census = dataclasses.replace(
        cruise, points=cruise.points[:1], trees=tuple(cruise.trees[tree] for tree in source), point=np.zeros(len(source), dtype=int),
        spcd=cruise.spcd[source], dbh_in=cruise.dbh_in[source], per_ac=np.full(len(source), 1 / block.acres),
        crown_class=cruise.crown_class[source],
    )  # fmt: skip
    return file, block, census


def _lights(file: Any, block: Any, census: Any, rules: Any) -> tuple[str, ...]:
    heights, inside = made.middle_of(block.crowns, block.map.width_ft / FT_PER_M, noise_m=0.3)
    surface = Surface(heights, inside, 1.0, lambda row, column: (row, column))
    crowns = above.crowns_around(surface, rules)
    own = above.of_the_stand(crowns, surface)
    full = 100 * float(stem_map.field_of(block, np.ones(len(block.stems), dtype=bool), rules, 1.0).mean())
    light = light_from_above(file, census, surface, crowns, own, rules)
    tallest = np.argsort(-census.dbh_in)[: round(light.crowns_ac * block.acres)]
    large = dataclasses.replace(census, per_ac=np.isin(np.arange(len(census.trees)), tallest) / block.acres)
    alone = light_from_above(file, large, surface, crowns, own, rules)
    density = f"{len(block.stems) / block.acres:.0f}", f"{light.crowns_ac:.0f}"
    return (*density, f"{full:.1f}", f"{light.mean_pct:.1f} ({light.low_pct:.1f} to {light.high_pct:.1f})", f"{alone.mean_pct:.1f}")
