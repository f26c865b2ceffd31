"""The light field: two paths, one answer; no order of trees and no number of threads changes it."""

from __future__ import annotations

import functools
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
import scipy

import plain_light as plain
from crowns import halves, made, one_openness, stand
from overwood.judgement.rules import load
from overwood.judgement.stem_map import season_at
from overwood.science.light import crowns as crown_rule
from overwood.science.light import field, ledger, sky
from overwood.science.light.raster import EDGES, Raster


@pytest.mark.parametrize("edge", EDGES)
@pytest.mark.parametrize("kind", [stand, halves, one_openness])
def test_the_compiled_path_is_the_plain_path(edge, kind):
    crowns = kind(1, 15)

    np.testing.assert_allclose(made(crowns, edge, count=20), made(crowns, edge, plain.light_field_plain, count=20), atol=1e-12)


@pytest.mark.parametrize("sides", [(30.0, 30.0), (33.9, 33.9), (40.0, 40.0), (61.3, 37.7)])
@pytest.mark.parametrize("edge", EDGES)
def test_a_block_of_any_side_is_the_plain_path(sides, edge):
    crowns, ways, raster = stand(23, 12, side=min(sides)), sky.sky_directions(20, "overcast"), Raster.near(*sides, 4.0)

    ours = field.light_field(crowns, ways, raster, edge=edge)

    np.testing.assert_allclose(ours, plain.light_field_plain(crowns, ways, raster, edge=edge), atol=1e-9)


@pytest.mark.parametrize("edge", EDGES)
@pytest.mark.parametrize("kind", [stand, halves, one_openness])
def test_states_laid_at_once_have_the_light_of_each_laid_alone(edge, kind):
    crowns, raster, rng = kind(5, 16), Raster.near(61.3, 37.7, 5.0), np.random.default_rng(3)
    dim, bright = (sky.past_boles(sky.sky_directions(14, "overcast"), boles) for boles in (0.02, 0.01))
    few, all_stand = rng.random(16) < 0.3, np.ones(16, dtype=bool)
    states = [(few, bright), (few | (rng.random(16) < 0.4), dim), (all_stand, dim), (all_stand, dim)]

    *differing, last, again = field.light_fields(crowns, states, raster, edge=edge)

    for light, (standing, ways) in zip((*differing, last), states, strict=False):
        np.testing.assert_allclose(light, plain.light_field_plain(crowns.taken(standing), ways, raster, edge=edge), atol=1e-12)
    np.testing.assert_array_equal(again, last)


@pytest.mark.parametrize("depth", [0.0, 1e-9, 0.3, 4.0, 16.0, 63.9, 500.0])
def test_what_passes_of_a_depth_is_its_exponential(depth):
    # One crown of one fixed depth straight overhead; deep shade is dark, and no number runs away.
    crown = field.Crowns(*(np.array([v]) for v in (6.0, 6.0, 20.0, 50.0, 50.0, 2.0, 0.0)), fixed=np.array([depth]), low=np.array([2.0]))
    up = sky.Directions(*(np.array([v]) for v in (0.0, 0.0, 1.0, 1.0)))

    light = field.light_field(crown, up, Raster.near(12, 12, 4), edge="open")

    np.testing.assert_allclose(light, np.exp(-depth), atol=1e-13)


@pytest.mark.parametrize("side", [30.0, 33.9, 142.25])
def test_a_repeating_block_has_the_light_of_four_of_itself_side_by_side(side):
    once = stand(24, 30, side=side)
    shifts = [(0.0, 0.0), (side, 0.0), (0.0, side), (side, side)]
    x, y = (np.concatenate([getattr(once, axis) + shift[place] for shift in shifts]) for place, axis in enumerate("xy"))
    four = field.Crowns(x, y, *(np.tile(column, 4) for column in once.columns[2:]))
    small = Raster.near(side, side, 4.0)
    large = Raster(2 * side, 2 * side, 2 * small.rows, 2 * small.columns)
    ways = sky.sky_directions(40, "overcast")

    light, of_four = (field.light_field(crowns, ways, raster, edge="torus") for crowns, raster in ((once, small), (four, large)))

    np.testing.assert_allclose(of_four, np.tile(light, (2, 2)), atol=1e-9)


def test_cells_fill_a_block_from_side_to_side():
    raster = Raster.near(33.9, 30.0, 4.0)
    px, _ = raster.middles()

    assert raster.shape == (8, 8)
    assert (raster.columns * raster.east_m, raster.rows * raster.north_m) == pytest.approx((33.9, 30.0))
    assert (px[0], 33.9 - px[-1]) == pytest.approx((33.9 / 16, 33.9 / 16))
    assert raster.cell(33.9, 30.0) == (7, 7)
    assert raster.cell(0.0, 3.76) == (1, 0)


def test_fields_asked_at_once_are_each_right():
    want = [made(stand(seed, 60)) for seed in range(4)]

    with ThreadPoolExecutor(4) as pool:
        got = list(pool.map(lambda seed: made(stand(seed % 4, 60)), range(20)))

    assert all((light == want[seed % 4]).all() for seed, light in enumerate(got))


def test_the_order_of_the_trees_changes_nothing():
    crowns, mixed = stand(2, 80), np.random.default_rng(3).permutation(80)
    shuffled = crowns.taken(mixed)

    assert (made(crowns) == made(shuffled)).all()


def test_the_number_of_cores_changes_nothing(monkeypatch):
    answers = set()
    for cores in (1, 2, 5):
        monkeypatch.setattr(field, "ThreadPoolExecutor", functools.partial(ThreadPoolExecutor, cores))
        answers.add(made(stand(4, 60)).tobytes())

    assert len(answers) == 1


@pytest.mark.parametrize("elevation", [90, 50, 30])
def test_halves_keep_their_optical_depth_over_a_torus(elevation):
    # Mean optical depth = sum(k V) / (A sin e) with V = 2/3 pi a b (up + down), geometry.
    crowns, angle = halves(8, 12, side=40.0), np.radians(elevation)
    one = sky.Directions(np.array([np.cos(angle)]), np.array([0.0]), np.array([np.sin(angle)]), np.array([1.0]))

    light = field.light_field(crowns, one, Raster.near(40, 40, 0.1), edge="torus")

    volume = 2 / 3 * np.pi * crowns.a * crowns.b * (crowns.c + crowns.low)
    expected = float((crowns.k * volume).sum() / (1600 * np.sin(angle)))
    assert float(-np.log(light).mean()) == pytest.approx(expected, rel=0.002)


def test_halves_alike_are_the_whole():
    whole = stand(9, 30)
    nearly = field.Crowns(*whole.columns[:7], whole.c * (1 + 1e-12))

    np.testing.assert_allclose(made(nearly), made(whole), atol=1e-9)


def test_one_openness_has_the_mean_of_the_path_straight_down():
    # The bridge of the light reference, section 1.2: an ellipsoid's mean openness from one side, 2 (1 - (1 + q) e^-q) / q^2.
    path, zenith = stand(10, 1), sky.Directions(*(np.array([v]) for v in (0.0, 0.0, 1.0, 1.0)))
    open_share = crown_rule.mean_crown_openness(path.k, 2 * path.c)
    fixed = field.Crowns(*path.columns[:7], path.c, -np.log(open_share))
    fine = Raster.near(60, 60, 0.05)
    means = [field.light_field(crowns, zenith, fine, edge="torus").mean() for crowns in (fixed, path)]

    assert means[0] == pytest.approx(means[1], abs=2e-5)


def test_a_crown_of_one_openness_cannot_have_halves():
    whole = stand(9, 3)
    with pytest.raises(ValueError, match="whole ellipsoid"):
        field.Crowns(*whole.columns[:7], whole.c * 2, whole.c)


@pytest.mark.parametrize("edge", ["torus east-west", "torus north-south"])
def test_half_a_torus_lies_between(edge):
    crowns = stand(6, 80)

    assert made(crowns, "torus").mean() < made(crowns, edge).mean() < made(crowns, "open").mean()


def test_no_trees_no_shade_and_more_trees_less_light():
    few, many = stand(5, 20), stand(5, 120)

    assert made(field.Crowns(*(np.zeros(0) for _ in range(7)))).min() == pytest.approx(1.0)
    assert made(many).mean() < made(few).mean() < 1


def test_an_open_edge_is_lighter_than_a_torus():
    crowns = stand(6, 80)

    assert made(crowns, "open").mean() > made(crowns, "torus").mean()


@pytest.mark.parametrize(("elevation", "expected"), [(90, 0.45173), (45, 0.63885), (30, 0.90347)])
def test_optical_depth_over_a_torus_is_conserved(elevation, expected):
    # Light check 18: mean optical depth = sum(k V) / (A sin e) for the five-tree case; the raster at 0.1 m gave it within 0.0003.
    trees = [
        (10, 10, 12, 4, 4, 5, 0.4),
        (20, 12, 14, 5, 5, 6, 0.4),
        (14, 22, 9, 3, 3, 4, 0.5),
        (28, 25, 13, 4.5, 4.5, 5, 0.4),
        (5, 28, 10, 3.5, 3.5, 4, 0.45),
    ]
    crowns = field.Crowns(*(np.array(column, dtype=float) for column in zip(*trees, strict=True)))
    angle = np.radians(elevation)
    one = sky.Directions(np.array([np.cos(angle)]), np.array([0.0]), np.array([np.sin(angle)]), np.array([1.0]))

    light = field.light_field(crowns, one, Raster.near(40, 40, 0.2), edge="torus")

    assert float(-np.log(light).mean()) == pytest.approx(expected, abs=0.001)


@pytest.mark.slow
@pytest.mark.parametrize(("name", "mean"), [("uniform", 0.4790), ("overcast", 0.51152)])
def test_a_random_stand_has_the_light_of_the_boolean_model(name, mean):
    # Light checks 11 and 12: ellipsoids a 4, c 5 m, k 0.3, one on 100 m2; within 0.004 in the mean of many stands.
    rng, side, found = np.random.default_rng(7), 100.0, []
    for _ in range(80):
        n = rng.poisson(0.01 * side**2)
        crowns = field.Crowns(rng.random(n) * side, rng.random(n) * side, *(np.full(n, v) for v in (12.0, 4.0, 4.0, 5.0, 0.3)))
        found.append(field.light_field(crowns, sky.sky_directions(200, name), Raster.near(side, side, 4), edge="torus").mean())
    assert np.mean(found) == pytest.approx(mean, abs=0.01)


@pytest.mark.parametrize(
    ("sky_name", "elevation", "percent"), [("uniform", 10, 3.02), ("uniform", 20, 11.70), ("overcast", 10, 1.59), ("overcast", 30, 17.86)]
)
def test_low_light_of_the_skies(sky_name, elevation, percent):
    # Light checks 25 and 26.
    assert 100 * float(sky.share_below(elevation, sky_name)) == pytest.approx(percent, abs=0.05)


@pytest.mark.parametrize("name", [*sky.SKIES, 4.0])
def test_directions_follow_the_sky(name):
    ways = sky.sky_directions(4000, name)
    elevation = np.degrees(np.arcsin(ways.z))

    assert ways.weight.sum() == pytest.approx(1)
    np.testing.assert_allclose(ways.x**2 + ways.y**2 + ways.z**2, 1)
    assert ways.weight[elevation < 30].sum() == pytest.approx(float(sky.share_below(30, name)), abs=0.001)
    assert abs((ways.x * ways.weight).sum()) < 0.001


@pytest.mark.parametrize("b", [0.5, 2.0, 4.0])
def test_light_of_a_sky_is_the_integral_of_its_radiance(b):
    # scipy's quadrature of (1 + b sin e) sin e cos e over the elevations.
    whole, below = (
        scipy.integrate.quad(lambda e: (1 + b * np.sin(e)) * np.sin(e) * np.cos(e), 0, top)[0] for top in (np.pi / 2, np.radians(35))
    )

    assert float(sky.share_below(35, b)) == pytest.approx(below / whole, rel=1e-9)


@pytest.mark.parametrize("zenith", [45, 60, 90])
def test_a_view_sees_equal_pieces_of_the_dome(zenith):
    ways = sky.view_directions(2000, zenith)
    low = np.cos(np.radians(zenith))

    assert ways.z.min() >= low
    assert ways.z.mean() == pytest.approx((1 + low) / 2, abs=1e-6)
    assert ((ways.z > 0.9).mean()) == pytest.approx(0.1 / (1 - low), abs=0.001)


MAY_TO_SEPTEMBER = (8887, 9039)  # 2024-05-01 to 2024-09-30, days since 2000-01-01


def test_the_season_of_the_beam_at_38_north():
    # Light reference, section 1.4: mean elevation 53.2 degrees, 2.3 % of the beam from below 20 degrees.
    ways = sky.sun_directions(38, *MAY_TO_SEPTEMBER, 0.65, declinations=50, hours=400, low_deg=20)
    elevation = np.degrees(np.arcsin(ways.z))

    assert float((ways.weight * elevation).sum()) == pytest.approx(53.2, abs=0.1)
    assert 100 * ways.weight[elevation < 20].sum() == pytest.approx(2.3, abs=0.1)


def test_the_beam_is_even_east_and_west_and_from_the_south():
    ways = sky.sun_directions(38, *MAY_TO_SEPTEMBER, 0.65, declinations=10, hours=20, low_deg=0)

    np.testing.assert_allclose(ways.x**2 + ways.y**2 + ways.z**2, 1)
    assert abs((ways.x * ways.weight).sum()) < 0.005
    assert (ways.y * ways.weight).sum() < -0.1
    assert ways.weight == pytest.approx(1 / 200, rel=0.1)


def test_noon_of_the_season_stands_where_the_sun_does():
    # Light check 23: noon of 21 June 2023 at 38 N, 75.44 degrees (pvlib).
    day = 8572
    ways = sky.sun_directions(38, day, day, 0.65, declinations=1, hours=141, low_deg=0)

    assert np.degrees(np.arcsin(ways.z)).max() == pytest.approx(75.44, abs=0.15)


@pytest.mark.parametrize("trees", [25, 90])
def test_the_default_directions_are_within_their_stated_error_of_many(trees):
    # Stated: 0.3 points rms a cell and 0.05 points in the mean; an open stand has the most light to be off in.
    sun = sky.sun_directions(38, *MAY_TO_SEPTEMBER, 0.65, declinations=40, hours=300, low_deg=20)
    many = sky.season_directions(sky.sky_directions(12_000, "overcast"), sun, 0.5)

    off = [
        100 * field.light_field(stand(31, trees), ways, Raster.near(60, 60, 4), edge="torus") for ways in (season_at(38.0, load()), many)
    ]

    assert off[0].mean() == pytest.approx(off[1].mean(), abs=0.05)
    assert np.sqrt(((off[0] - off[1]) ** 2).mean()) < 0.3


def test_low_sun_is_neither_lost_nor_lifted():
    # Light reference, section 1.4: 2.3 % of the beam of May to September comes from below 20 degrees at 38 north; half the light is beam.
    ways = season_at(38.0, load())
    sun = slice(int(load().number("light_directions")), None)
    low = np.degrees(np.arcsin(ways.z[sun])) < 20

    assert 100 * ways.weight[sun][low].sum() / ways.weight[sun].sum() == pytest.approx(2.3, abs=0.1)


def test_boles_dim_low_light_most():
    ways = sky.sky_directions(400, "overcast")
    left = sky.past_boles(ways, 0.10).weight / ways.weight

    low = np.degrees(np.arcsin(ways.z)) < 30
    assert left[low].max() < left[~low].min()
    assert left == pytest.approx(np.exp(-0.10 / np.tan(np.arcsin(ways.z))))
    assert sky.past_boles(ways, 0.0).weight == pytest.approx(ways.weight)


@pytest.mark.parametrize("edge", EDGES)
@pytest.mark.parametrize("gradient", [(0.4, 0.0), (-0.2, 0.35), (0.0, -1.2)])
@pytest.mark.parametrize("kind", [stand, halves, one_openness])
def test_on_a_slope_the_compiled_path_is_the_plain_path(edge, gradient, kind):
    options = {"raster": Raster.near(40, 40, 4), "edge": edge, "gradient": gradient}
    ways, crowns = sky.sky_directions(16, "overcast"), kind(41, 10, side=40.0)

    ours = field.light_field(crowns, ways, **options)

    np.testing.assert_allclose(ours, plain.light_field_plain(crowns, ways, **options), atol=1e-12)
    np.testing.assert_allclose(ledger.Ledger(crowns, ways, **options).light, ours, atol=1e-3)


def bare(ways, gradient):
    none = field.Crowns(*(np.zeros(0) for _ in range(7)))
    return float(field.light_field(none, ways, Raster.near(4, 4, 4), edge="torus", gradient=gradient).mean())


def test_a_bare_slope_hides_the_sky_behind_it():
    # View factor of a tilted plane's sky (radiation engineering): a uniform sky loses (1 - cos t) / 2.
    ways = sky.sky_directions(20_000, "uniform")

    assert bare(ways, (0.4, 0.0)) == pytest.approx((1 + np.cos(np.arctan(0.4))) / 2, abs=1e-3)


@pytest.mark.parametrize("gradient", [(0.0, -0.4), (-0.4, 0.0), (0.0, 0.4), (0.4, 0.0)])
def test_a_bare_slope_of_40_percent_has_nearly_the_light_of_the_level(gradient):
    # Light reference, section 1.5: 97.8 to 98.8 % of the season's light, by aspect.
    ways = sky.season_directions(
        sky.sky_directions(4_000, "overcast"), sky.sun_directions(38, *MAY_TO_SEPTEMBER, 0.65, declinations=30, hours=150, low_deg=20), 0.5
    )

    assert 0.973 < bare(ways, gradient) < 0.993


def test_a_south_slope_is_lighter_than_a_north_slope():
    # Light reference, section 1.5: at 60 ft2/ac on 40 %, north 38.2, east 41.0, south 42.4, west 41.0.
    sun = sky.sun_directions(38, *MAY_TO_SEPTEMBER, 0.65, declinations=10, hours=20, low_deg=0)
    ways = sky.season_directions(sky.sky_directions(216, "overcast"), sun, 0.5)

    def mean(gradient):
        return field.light_field(stand(42, 60), ways, Raster.near(60, 60, 3), edge="torus", gradient=gradient).mean()

    north, east, south, west = (mean(g) for g in ((0.0, -0.4), (-0.4, 0.0), (0.0, 0.4), (0.4, 0.0)))
    assert north < min(east, west)
    assert south > max(east, west)
    assert east == pytest.approx(west, abs=0.02)
