"""The kit's own arithmetic against the desk's and outside values, and the kit packed for any host."""

from __future__ import annotations

import functools
import hashlib
import json
import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import pyproj
import pytest
from click.testing import CliRunner

from conftest import ROOT, missing
from overwood.faces import woods
from overwood.faces.cli.main import cli
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
