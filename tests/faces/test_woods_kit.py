"""The kit's own arithmetic against the desk's and outside values, and the kit packed for any host."""

from __future__ import annotations

import functools
import hashlib
import json
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import pyproj
import pytest
from click.testing import CliRunner

from conftest import ROOT, missing
from overwood.desk import walks
from overwood.faces import woods
from overwood.faces.cli.main import cli
from overwood.ground.vocabulary import CROWN_CLASSES, DAMAGES, HEIGHT_CLASSES, LAYERS, SIGHTING_KINDS
from overwood.science import sequential

APP = ROOT / "src" / "overwood" / "faces" / "woods" / "app"


@functools.cache
def modules():
    """The kit's files where Node takes them for modules, which a package file beside them says."""
    place = Path(tempfile.mkdtemp())
    for path in APP.iterdir():
        shutil.copy(path, place)
    (place / "package.json").write_text('{"type": "module"}')
    return place


def in_node(script, given):
    """What a module of the kit answers; the script reads `given` and prints JSON."""
    node = shutil.which("node") or missing("node")
    done = subprocess.run(
        [node, "--input-type=module", "-e", f"import {{ readFileSync }} from 'node:fs'; const given = JSON.parse(readFileSync(0)); {script}"],
        input=json.dumps(given), capture_output=True, text=True, check=False, cwd=modules(),
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_sequential_check_of_the_phone_agrees_with_the_desk_on_a_thousand_series():
    chance = np.random.default_rng(11)
    plan = {"error": 0.1, "step": 5, "looks": 8}
    t = sequential.t_values(**plan)
    series = [
        (10.0 * chance.poisson(chance.uniform(3, 10), int(chance.integers(0, 46)))).tolist()
        if place % 50
        else [60.0] * int(chance.integers(0, 46))
        for place in range(1000)
    ]
    check = {"low": 50, "high": 70, "step": plan["step"], "looks": plan["looks"], "t": t}
    script = "const { judge } = await import('./check.js'); "
    script += (
        "console.log(JSON.stringify(given.series.map((s) => { const l = judge(s, given.check); return [l.verdict, l.n, l.nextLook]; })));"
    )
    phone = in_node(script, {"series": series, "check": check})
    desk = [sequential.judge(one, 50, 70, **plan) for one in series]
    assert [tuple(one) for one in phone] == [(one.verdict, one.n, one.next_look) for one in desk]
    assert {one.verdict for one in desk} == set(sequential.VERDICTS)


def words():
    """The kit's words by language, as JSON that the script holds."""
    text = (APP / "words.js").read_text(encoding="utf-8")
    return json.loads(text[text.index("{") : text.rindex("}") + 1])


def test_every_word_of_the_kit_stands_in_each_language_with_the_same_values():
    english, spanish = words()["en"], words()["es"]
    assert list(english) == list(spanish)
    for key, text in english.items():
        assert sorted(re.findall(r"\{\w+\}", text)) == sorted(re.findall(r"\{\w+\}", spanish[key])), key
    assert "not yet reviewed" in spanish["reviewed"] and all(spanish.values())


def test_every_word_that_a_screen_asks_for_is_there_and_none_is_left_over():
    code = "".join(path.read_text(encoding="utf-8") for path in APP.glob("*.js") if path.name not in ("words.js", "qr.js", "idb.js"))
    asked = set(re.findall(r'"([a-z][^"\\]*)"', code))
    kinds = {
        "kind": walks.KINDS, "sighting": SIGHTING_KINDS, "damage": DAMAGES, "height": HEIGHT_CLASSES, "layer": LAYERS, "crown": CROWN_CLASSES,
        "device": ("sensor", "densiometer", "photo"), "test": ("safe", "offline", "lasting", "place"), "unit": ("in", "ft", "ft2/ac", "yd"),
    }  # fmt: skip
    made = {f"{kind} {name}" for kind, names in kinds.items() for name in names} | {f"test {name} do" for name in kinds["test"]}
    made |= {f"ring {what} to" for what in ("dbh", "height")} | set(sequential.VERDICTS)
    # Words of one thing go with those of several.
    known = {key.removesuffix(" 1") for key in words()["en"]}
    assert set(re.findall(r'\bt\("([^"]+)"', code)) <= known
    assert made - {"test says"} <= known
    assert known <= made | asked


def test_a_stem_counts_in_the_ring_of_its_size_and_a_point_under_way_or_outside_the_stand_in_none():
    rings = [
        {"layer": "overstory", "design": "prism", "baf_ft2_ac": "10", "low_dbh_in": "5"},
        {"layer": "midstory", "design": "fixed", "plot_area_ac": "0.02", "low_dbh_in": "1", "high_dbh_in": "5"},
    ]
    tap = iter(range(1, 99))

    def row(table, point, **more):
        return {"act": "add", "table": table, "id": f"{next(tap):032x}", "row": {"visit": "v", "point": point, **more}}

    taps = [
        row("points", "2"), row("trees", "2", dbh_in="14", status="live"), row("trees", "2", dbh_in="5", status="live"),
        row("trees", "2", dbh_in="4", status="live"), row("trees", "2", dbh_in="0.6", status="live"), row("taken", "2", dbh_in="14"),
        row("points", "1", in_stand="no"), row("trees", "1", dbh_in="20", status="live"), row("points", "3"),
    ]  # fmt: skip
    script = "const f = await import('./fold.js'); const v = { visit: 'v', rings: given.rings };"
    script += "console.log(JSON.stringify([null, '3', '2'].map((at) => f.pointBasalAreas(given.taps, v, at))));"
    # One 4-inch stem on a fiftieth of an acre: 0.005454 x 16 x 50 ft2/ac (the forester's constant, pi / 576).
    all_done, third_under_way, looked_back = in_node(script, {"rings": rings, "taps": taps})
    assert all_done == pytest.approx([20 + 0.005454154 * 16 * 50, 0])
    assert third_under_way == all_done[:1] and looked_back == all_done


def test_every_slipped_letter_of_a_walk_file_is_seen_by_the_phone():
    walk = {
        "overwood": "walk",
        "version": 1,
        "seal": "s",
        "stands": [{"stand": "Bärenloch", "check": {"low": 50.0, "t": 3.4954059325164417}}],
    }
    text = walks.as_file(walk)
    slips = [text[:at] + chr(ord(text[at]) ^ 1) + text[at + 1 :] for at in range(len(text) - 1)]
    script = "const { readWalk } = await import('./carry.js'); const tried = await Promise.all([given.text, ...given.slips].map((one) => "
    script += "readWalk(one).then((walk) => JSON.stringify(walk.stands), () => null))); console.log(JSON.stringify(tried));"
    whole, *damaged = in_node(script, {"text": text, "slips": slips})
    assert json.loads(whole) == walk["stands"]
    # Only the name of the digest itself may be hurt: then nothing is left to compare with, and the content is right.
    assert {one for one in damaged if one} <= {whole}


def test_a_place_taken_by_the_phone_keeps_the_note_that_a_person_wrote():
    script = (
        "const f = await import('./fold.js'); const keep = (note, machine) => f.noteOf(f.noteParts(note, 'place as planned').own, machine);"
    )
    script += "console.log(JSON.stringify([keep('wet [old place]', 'new'), keep('place as planned', 'new'), keep('', 'new'), keep('a [b] c', 'new'),"
    script += "f.noteParts('wet [x]'), f.noteParts('place as planned', 'place as planned')]));"
    wet, planned, none, inner, parts, bare = in_node(script, {})
    assert (wet, planned, none, inner) == ("wet [new]", "[new]", "[new]", "a [b] c [new]")
    assert (parts, bare) == ({"own": "wet", "machine": "x"}, {"own": "", "machine": "place as planned"})


def test_the_way_to_turn_comes_from_the_own_track_and_no_compass():
    script = "const p = await import('./place.js'); console.log(JSON.stringify([p.course(given.east), p.course(given.still), p.turn(90, 120), p.turn(350, 20), p.turn(20, 350)]));"
    east = [{"lat": 38.0, "lon": -80.0 + step * 1e-4, "accuracy": 5} for step in range(4)]
    still = [{"lat": 38.0, "lon": -80.0, "accuracy": 5}] * 4
    going, none, *turns = in_node(script, {"east": east, "still": still})
    assert going == pytest.approx(90, abs=0.1)
    assert (none, turns) == (None, [30, 30, -30])


def test_distance_and_bearing_agree_with_the_geodesic_on_the_ellipsoid():
    # WGS84 geodesic of pyproj (Karney 2013); a sphere is off by at most some half a percent.
    chance = np.random.default_rng(4)
    pairs = [
        (lat, lon, lat + up, lon + along)
        for lat, lon, up, along in chance.uniform((34, -95, -0.01, -0.01), (42, -75, 0.01, 0.01), (200, 4))
    ]
    script = "const p = await import('./place.js'); console.log(JSON.stringify(given.map(([a, b, c, d]) => "
    script += "[p.distanceFt({lat: a, lon: b}, {lat: c, lon: d}), p.bearing({lat: a, lon: b}, {lat: c, lon: d})])));"
    geod = pyproj.Geod(ellps="WGS84")
    for (lat, lon, to_lat, to_lon), (feet, turn) in zip(pairs, in_node(script, pairs), strict=True):
        azimuth, _, metres = geod.inv(lon, lat, to_lon, to_lat)
        assert feet == pytest.approx(metres / 0.3048, rel=0.006)
        assert abs((turn - azimuth + 180) % 360 - 180) < 0.4


def test_a_compass_shows_less_where_declination_is_east_and_the_place_is_the_mean_of_the_best_fixes():
    script = "const p = await import('./place.js'); console.log(JSON.stringify([p.magnetic(5, 10), p.magnetic(355, -10), p.meanOfBest(given), p.meanOfBest([])]));"
    good = [{"lat": 38.0 + step * 1e-5, "lon": -80.0, "accuracy": 5} for step in range(-5, 5)]
    east, west, mean, none = in_node(script, [*good, {"lat": 39.0, "lon": -81.0, "accuracy": 900}])
    assert (east, west, none) == (355, 5, None)
    assert (mean["fixes"], mean["accuracy"]) == (10, 5)
    assert mean["lat"] == pytest.approx(38.0 - 0.5e-5)


def test_a_record_that_takes_the_place_of_another_keeps_its_place_in_time():
    # The desk reads the points of a check in the order of their identifiers: a note kept later must not move a point among the looks.
    script = "const { identifier } = await import('./store.js'); const old = identifier(given); const between = identifier(given + 60000);"
    script += "const anew = identifier(Number.parseInt(old.slice(0, 12), 16)); console.log(JSON.stringify([old, anew, between]));"
    old, anew, between = in_node(script, 1_700_000_000_000)
    assert old[:12] == anew[:12] and anew != old
    assert max(old, anew) < between


def test_identifiers_are_version_7_and_sort_by_time():
    import uuid

    script = "const { identifier } = await import('./store.js'); console.log(JSON.stringify(given.map(identifier)));"
    moments = [1_700_000_000_000 + step * 977 for step in range(300)]
    made = in_node(script, moments)
    assert made == sorted(made) and len(set(made)) == 300
    assert all(uuid.UUID(one).version == 7 and uuid.UUID(one).variant == uuid.RFC_4122 for one in made)
    assert [int(one[:12], 16) for one in made] == moments


def test_the_packed_kit_is_small_and_fits_its_checksum_list(tmp_path):
    done = CliRunner().invoke(cli, ["woods", "kit", str(tmp_path / "kit")])
    assert done.exit_code == 0, done.output
    lines = [line.split("  ") for line in (tmp_path / "kit" / "SHA256SUMS").read_text().splitlines()]
    names = {path.name for path in (tmp_path / "kit").iterdir()}
    assert names == {name for _, name in lines} | {"SHA256SUMS"}
    for digest, name in lines:
        assert hashlib.sha256((tmp_path / "kit" / name).read_bytes()).hexdigest() == digest
    assert sum(path.stat().st_size for path in (tmp_path / "kit").iterdir()) < 300_000
    assert CliRunner().invoke(cli, ["woods", "kit", str(tmp_path / "kit")]).exit_code == 2


def test_the_worker_keeps_every_file_of_the_kit_and_a_changed_file_makes_another_version():
    worker = woods.files()["worker.js"].decode()
    assert "@" not in worker.split("const FILES")[0] and "@FILES@" not in worker
    for name in set(woods.files()) - {"worker.js", "index.html"}:
        assert f'"{name}"' in worker
