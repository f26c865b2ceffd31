"""Fisheye photos: geometry of the lens, threshold, openness and light, against closed forms and drawn skies."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from overwood.desk import photo as desk
from overwood.ground.errors import Misuse, NotFound
from overwood.judgement.rules import load
from overwood.science.light import photo, sky
from overwood.science.light.crowns import gap_light_share, sphere_blocked_share

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("read_here")]

RULES = load()
SIZE = 801
LENS = photo.Lens(400, 400, 400.5, "equidistant")


def lens(projection="equidistant", **more):
    return photo.Lens(400, 400, 400.5, projection, **more)


@pytest.mark.parametrize("projection", photo.LENSES)
def test_the_pixels_of_the_circle_make_the_dome(projection):
    _, _, solid = photo.sky_of_pixels((SIZE, SIZE), lens(projection))

    assert solid.sum() == pytest.approx(2 * np.pi, rel=0.01 if projection == "orthographic" else 0.003)


@pytest.mark.parametrize("projection", photo.LENSES)
@pytest.mark.parametrize("edge", [20, 45, 70])
def test_a_round_gap_has_the_openness_of_its_cap(projection, edge):
    # Solid angle of a cap: 1 - cos of its half angle, of the dome. Light through it: gap_light_share, wall of that elevation.
    angle, _, solid = photo.sky_of_pixels((SIZE, SIZE), lens(projection))
    seen = (angle <= edge) & (solid > 0)

    assert photo.openness(seen, angle, solid, zenith_limit_deg=90) == pytest.approx(1 - np.cos(np.radians(edge)), abs=0.004)
    for name in sky.SKIES:
        expected = gap_light_share(np.tan(np.radians(edge)), 1.0, name)
        assert photo.diffuse_share(seen, angle, solid, name) == pytest.approx(expected, abs=0.005)


def test_a_drawn_ball_blocks_what_the_closed_form_says():
    # A ball of radius 5 m, its middle 20 m up and 12 m to the east, seen by an equidistant lens.
    angle, bearing, solid = photo.sky_of_pixels((SIZE, SIZE), LENS)
    z, level = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    way = np.stack((level * np.sin(np.radians(bearing)), level * np.cos(np.radians(bearing)), z))
    along = 12 * way[0] + 20 * way[2]
    seen = (12**2 + 20**2 - along**2 > 25) & (solid > 0)

    for name in sky.SKIES:
        blocked = 1 - photo.diffuse_share(seen, angle, solid, name)
        assert blocked == pytest.approx(sphere_blocked_share(5, 20, offset_m=12, extinction_per_m=None, sky=name), abs=0.002)


def test_looking_up_east_is_on_the_left():
    _, bearing, _ = photo.sky_of_pixels((SIZE, SIZE), LENS)
    assert bearing[400, 100] == pytest.approx(90)
    assert bearing[100, 400] == pytest.approx(0)
    _, turned, _ = photo.sky_of_pixels((SIZE, SIZE), lens(top_bearing_deg=180))
    assert turned[100, 400] == pytest.approx(180)


def test_light_along_directions_meets_the_sky_of_the_photo():
    angle, bearing, solid = photo.sky_of_pixels((SIZE, SIZE), LENS)
    south = ((bearing > 90) & (bearing < 270)) & (solid > 0)
    sun = sky.sun_directions(38, 8887, 9039, 0.65, declinations=10, hours=20, low_deg=20)

    through = photo.share_along(south, angle, bearing, solid, sun, rings=18, sectors=36)

    assert through == pytest.approx(sun.weight[sun.y < 0].sum(), abs=0.05)
    everything = solid > 0
    assert photo.share_along(everything, angle, bearing, solid, sun, rings=18, sectors=36) == pytest.approx(1)


@settings(deadline=None, max_examples=40)
@given(st.lists(st.integers(0, 255), min_size=3, max_size=200).filter(lambda v: len(set(v)) > 1))
def test_the_threshold_is_the_best_of_all(values):
    # Otsu 1979: the variance between the classes, tried at every level.
    grey = np.array(values, dtype=np.uint8)

    def between(level):
        dark, bright = grey[grey <= level].astype(float), grey[grey > level].astype(float)
        return len(dark) * len(bright) * (dark.mean() - bright.mean()) ** 2 if len(dark) and len(bright) else 0.0

    found = photo.otsu_threshold(grey)

    assert between(found) == pytest.approx(max(between(level) for level in range(256)))


def picture(folder, grey, name="p.jpg"):
    Image.fromarray(np.repeat(grey[..., None], 3, axis=2).astype(np.uint8)).save(folder / name, quality=95)
    return folder / name


def read(file, **more):
    camera = desk.Camera(more.pop("projection", "equidistant"), more.pop("top_bearing_deg", 0.0), more.pop("circle", None))
    return desk.read(file, RULES, camera, **({"threshold": None, "latitude_deg": None} | more))


def holes(seed=1, share=0.25):
    """Leaves of grey 40 with round holes of sky of grey 215, and noise."""
    rng = np.random.default_rng(seed)
    rows, columns = np.mgrid[0:SIZE, 0:SIZE]
    found = np.full((SIZE, SIZE), 40.0)
    while (found > 100).mean() < share:
        y, x, r = rng.random() * SIZE, rng.random() * SIZE, rng.uniform(4, 25)
        found[(rows - y) ** 2 + (columns - x) ** 2 < r**2] = 215.0
    return np.clip(found + rng.normal(0, 8, found.shape), 0, 255)


def test_a_jpeg_gives_the_openness_it_was_drawn_with(tmp_path):
    drawn = holes()
    angle, _, solid = photo.sky_of_pixels((SIZE, SIZE), LENS)

    found = read(picture(tmp_path, drawn)).reading

    assert found.openness_pct == pytest.approx(100 * photo.openness(drawn > 128, angle, solid, zenith_limit_deg=90), abs=0.5)
    assert 80 < found.threshold < 180
    assert found.openness_low_pct <= found.openness_pct <= found.openness_high_pct
    assert 0 < found.season_light_pct < 100


def test_the_overlay_tints_the_sky(tmp_path):
    file = picture(tmp_path, holes())
    one = read(file)

    desk.write_overlay(one, tmp_path / "out" / "o.png")

    with Image.open(tmp_path / "out" / "o.png") as shown:
        pixels = np.asarray(shown.convert("RGB")).astype(int)
    tinted = pixels[..., 2] - pixels[..., 0] > 40
    assert (tinted & one.reading.sky).sum() > 0.95 * one.reading.sky.sum()
    assert (tinted & ~one.reading.sky).sum() < 0.01 * tinted.size


@pytest.mark.parametrize(
    ("make", "options", "fault", "words"),
    [
        (lambda f: f / "none.jpg", {}, NotFound, "no picture that can be read"),
        (lambda f: picture(f, np.full((30, 30), 9.0)), {}, Misuse, "30 by 30 pixels"),
        (lambda f: picture(f, np.full((100, 100), 9.0), "q.png"), {}, Misuse, "one gray level"),
        (lambda f: picture(f, holes()), {"circle": (100, 100, 300)}, Misuse, "leaves the picture"),
    ],
)
def test_a_bad_photo_is_refused_with_a_reason(tmp_path, make, options, fault, words):
    with pytest.raises(fault, match=words):
        read(make(tmp_path), **options)


def test_a_burnt_out_photo_is_pointed_out(tmp_path):
    grey = np.full((200, 200), 255.0)
    grey[:90] = 30.0

    assert any("burnt out" in words for words in read(picture(tmp_path, grey)).reading.notes)


def test_readings_are_rows_of_the_sheet(tmp_path):
    rows = desk.reading_rows([read(picture(tmp_path, holes(), "7.jpg"))], "S2-L")

    assert rows[0]["point"] == "7"
    assert (rows[0]["visit"], rows[0]["measures"], rows[0]["device"]) == ("S2-L", "openness", "fisheye photo")
