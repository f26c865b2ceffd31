"""Damaged files, by the hundred thousand, into every reader of foreign files: a fault in words, or it was read.

    python bench/fuzz.py --inputs 20000 --seed 1

Seeds are the beginnings of the demo's files, made-up workbooks, outlines and pictures, and what `bench/fuzz_corpus/` keeps (inputs that once
broke a reader or misled it). A reader fails by any other exception than a fault in words, by more than ten seconds of work, or by more than a gigabyte
above what the process held before. Failures are written to --keep.

Outlines and pictures are read in this process, so that what goes wrong is seen; for people a process of their own reads them. Workbooks are read
by their own process, which takes long to start: they are drawn a tenth as often. --seconds ends a run early; it says how far it came.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import os
import random
import sys
import tempfile
import time
import traceback
import warnings
import zipfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
CORPUS = ROOT / "bench" / "fuzz_corpus"
MOST_S, MOST_MB = 10.0, 1_000
_LON = -49.99
_NASTY = (
    b"\0", b"\xff\xfe", b"\xef\xbb\xbf", b'"', b"\r", b"NaN", b"inf", b"1e999", b"-0", b"9998-12-31", b"0000-00-00", b"=1+1", b"[[[[", b"{",
    b"</a>", b"\xed\xa0\x80", b"99999999999999999999", b"1/0", b",,,,,,,,", b"\t", b"&#0;", b"PK\x03\x04",
)  # fmt: skip

Reader = Callable[[str, bytes], object]


@dataclass(frozen=True)
class Seed:
    """A sound file: the name a reader sees, the reader, its content, and how often it is drawn beside others."""

    name: str
    reader: Reader
    content: bytes
    weight: float = 1.0

    @property
    def room(self) -> str:
        return self.reader.__name__.strip("_")


def _tables(name: str, content: bytes) -> object:
    from overwood.memory.exchange import proposing, reading
    from overwood.memory.exchange.proposal import Answers, Known, KnownStand

    known = Known(stands=(KnownStand(stand="S1", property="P"),), properties=("P",))
    said = Answers(settings={"baf_ft2_ac": "10", "plot_area_ac": "1/735", "stand": "S1", "visited_on": "2025-05-14"})
    return proposing.apply(proposing.propose(reading.read_file(name, content), said, {}, known))


def _outlines(name: str, content: bytes) -> object:
    from overwood.memory.exchange import outlines

    return outlines.read(name, content)


def _weather(name: str, content: bytes) -> object:
    from overwood.desk import fire

    return fire.read_weather(_file(name, content))


def _prices(name: str, content: bytes) -> object:
    from overwood.judgement import prices

    return prices.load(_file(name, content))


def _pictures(name: str, content: bytes) -> object:
    from overwood.memory.exchange import pictures

    return pictures.read(name, content)


def _codes(name: str, content: bytes) -> object:
    from overwood.memory.exchange import screen_codes

    return screen_codes.joined(screen_codes.read(name, content)[0])


def _backgrounds(name: str, content: bytes) -> object:
    from overwood.desk import backgrounds

    path = _file(name, content)
    west, south, east, north = backgrounds.look(path).extent
    zoom = 12
    column, row = (round((_LON + 180) / 360 * 2**zoom), 1_583)
    return west, south, east, north, backgrounds.tile(path, zoom, column, row), backgrounds.tile(path, 0, 0, 0)


def _file(name: str, content: bytes) -> Path:
    path = Path(tempfile.gettempdir()) / f"overwood-fuzz-{os.getpid()}-{name}"
    path.write_bytes(content)
    return path


def seeds() -> list[Seed]:
    """What is damaged."""
    demo, short = ROOT / "demo", 1_200
    made = [Seed(path.name, _tables, path.read_bytes()[:short]) for path in sorted((demo / "vesperlick").glob("*.csv"))]
    made += [Seed("weather.csv", _weather, (demo / "weather.csv").read_bytes()[: 10 * short])]
    made += [Seed("prices.toml", _prices, (demo / "prices.toml").read_bytes()), Seed("a.zip", _tables, _zipped(demo / "vesperlick"))]
    for path in sorted(CORPUS.glob("*/*")):
        made.append(Seed(path.name.split("-", 1)[-1], READERS[path.parent.name], path.read_bytes()))
    return [*made, *_workbooks(), *_areas(), *_photos(), *_screens(), *_maps(), *_canopies()]


def _zipped(folder: Path) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in ("visits.csv", "rings.csv", "stands.csv"):
            archive.writestr(name, (folder / name).read_bytes())
    return stream.getvalue()


def _workbooks() -> list[Seed]:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.create_sheet(index=0)
    for row in (("Plot", "Species", "DBH (in)"), (1, "WO", 18.5), (2, "RO", 12), (2, "HI", 9.1)):
        sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return [Seed("a.xlsx", _tables, stream.getvalue(), 0.1)]


def _areas() -> list[Seed]:
    """Every kind of outlines the program writes, and those made of them."""
    import shapely

    from overwood.memory.exchange import outlines

    rows = [({"stand": name}, shapely.box(_LON, 37.5 + at, _LON + 0.004, 37.504 + at)) for name, at in (("S1", 0.0), ("S2", 0.01))]
    made = [Seed(f"a.{kind}", _outlines, outlines.write("stands", rows, kind)) for kind in outlines.KINDS_OUT]
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", next(one.content for one in made if one.name == "a.kml"))
    return [*made, Seed("a.kmz", _outlines, stream.getvalue())]


def _photos() -> list[Seed]:
    import numpy as np
    from PIL import Image

    picture, made = Image.fromarray(np.arange(96 * 96 * 3, dtype=np.uint32).astype(np.uint8).reshape(96, 96, 3)), []
    for kind in ("jpeg", "png", "tiff", "gif", "webp", "bmp"):
        stream = io.BytesIO()
        picture.save(stream, kind)
        made.append(Seed(f"a.{kind}", _pictures, stream.getvalue()))
    return made


def _screens() -> list[Seed]:
    """A picture of a code as a phone shows it."""
    import zxingcpp
    from PIL import Image

    drawn = zxingcpp.create_barcode("WOODS1/00000000/1/1/BB8", zxingcpp.BarcodeFormat.QRCode).to_image(scale=4)
    stream = io.BytesIO()
    Image.fromarray(drawn).save(stream, "png")
    return [Seed("code.png", _codes, stream.getvalue())]


def _maps() -> list[Seed]:
    sys.path.insert(0, str(ROOT / "tests"))
    from maps import geotiff, pmtiles

    with tempfile.TemporaryDirectory() as folder:
        kinds = {
            "air.tif": geotiff(Path(folder) / "air.tif", lon=_LON, pixels=40),
            "roads.pmtiles": pmtiles(Path(folder) / "roads.pmtiles", lon=_LON),
        }
        return [Seed(name, _backgrounds, path.read_bytes()) for name, path in kinds.items()]


def _canopy(name: str, content: bytes) -> None:
    from overwood.memory.exchange.canopy import grid

    grid.read(name, content, outline=_STAND, height="m", pieces=[(name, len(content))])


def _canopies() -> list[Seed]:
    """A small canopy as a raster and as a cloud, over the outline that is asked for.

    A damaged packed cloud (LAZ) can end the process it is read in, by asking for more memory than there is; it is left out here.
    """
    import numpy as np

    sys.path.insert(0, str(ROOT / "tests"))
    import canopy

    heights = np.random.default_rng(1).uniform(0, 25, (60, 60)).astype(np.float32)
    made = []
    with tempfile.TemporaryDirectory() as folder:
        made.append(canopy.geotiff(Path(folder) / "c.tif", heights, strip_m=10.0).read_bytes())
        made.append(canopy.cloud(Path(folder) / "c.las", heights, strip_m=10.0, per_m2=1).read_bytes())
    return [Seed(f"c.{ending}", _canopy, content) for ending, content in zip(("tif", "las"), made, strict=True)]


_STAND = "POLYGON ((-50 37.5, -49.9996 37.5, -49.9996 37.5003, -50 37.5003, -50 37.5))"
READERS: dict[str, Reader] = {
    "tables": _tables, "outlines": _outlines, "weather": _weather, "prices": _prices, "pictures": _pictures, "codes": _codes, "backgrounds": _backgrounds,
    "canopy": _canopy,
}  # fmt: skip


def damaged(content: bytes, draw: random.Random) -> bytes:
    """The content hurt; half of the zip files in one of their members, packed again."""
    if content[:4] != b"PK\x03\x04" or draw.random() < 0.5:
        return _hurt(content, draw)
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            members = {name: archive.read(name) for name in archive.namelist()}
    except Exception:  # a file of the corpus may be broken on purpose
        return _hurt(content, draw)
    chosen = draw.choice(sorted(members))
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, inside in members.items():
            archive.writestr(name, _hurt(inside, draw) if name == chosen else inside)
    return stream.getvalue()


def _hurt(content: bytes, draw: random.Random) -> bytes:
    """The content with one to six hurts: bytes changed, cut, doubled, moved, or something nasty put in."""
    hurt = bytearray(content)
    for _ in range(draw.randint(1, 6)):
        place = draw.randrange(len(hurt) + 1)
        span = min(draw.choice((1, 2, 8, 64, 512)), len(hurt) - place)
        kind = draw.randrange(6)
        if kind == 0 and place < len(hurt):
            hurt[place] = draw.randrange(256)
        elif kind == 1:
            del hurt[place : place + span]
        elif kind == 2:
            hurt[place:place] = hurt[place : place + span] * draw.choice((1, 2, 20))
        elif kind == 3:
            hurt[place:place] = draw.choice(_NASTY)
        elif kind == 4:
            hurt[place : place + span] = draw.choice(_NASTY)
        else:
            del hurt[place:]
    return bytes(hurt)


def _memory_mb() -> float:
    """The most memory this process ever had; 0 where the system does not say."""
    try:
        import resource
    except ImportError:
        return 0.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1_000


def _worked_s() -> float:
    """Seconds that the processor worked for this process and those it started: a busy machine makes no reader slow."""
    return sum(os.times()[:4])


@dataclass
class Seen:
    """What came of the files so far: outcomes by reader, failures by kind, and the slowest."""

    outcomes: Counter[str]
    failed: Counter[str]
    slowest_s: float = 0.0

    def fail(self, kind: str) -> bool:
        """Count a failure; whether it is the first of its kind."""
        self.failed[kind] += 1
        return self.failed[kind] == 1


def _one(seed: Seed, hurt: bytes, seen: Seen, keep: Path | None) -> None:
    """Read one damaged file, and keep it where it fails in a new way."""
    from overwood.ground.errors import OverwoodError

    at, first = _worked_s(), False
    try:
        seed.reader(seed.name, hurt)
        seen.outcomes[f"{seed.room} read"] += 1
    except OverwoodError:
        seen.outcomes[f"{seed.room} refused in words"] += 1
    except Exception as fault:
        place = traceback.extract_tb(fault.__traceback__)[-1]
        first = seen.fail(f"{seed.room}: {type(fault).__name__} at {Path(place.filename).name}:{place.lineno}: {str(fault)[:80]}")
    took = _worked_s() - at
    seen.slowest_s = max(seen.slowest_s, took)
    if took > MOST_S:
        first = seen.fail(f"{seed.name}: over {MOST_S:.0f} s") or first
    if first and keep is not None:
        (keep / seed.room).mkdir(parents=True, exist_ok=True)
        (keep / seed.room / f"{hashlib.sha256(hurt).hexdigest()[:8]}-{seed.name}").write_bytes(hurt)


def run(inputs: int, seed: int, keep: Path | None, seconds: float = float("inf")) -> int:
    """Read so many damaged files, or as many as the seconds allow; returns how many failed."""
    draw, sound, seen = random.Random(seed), seeds(), Seen(Counter(), Counter())
    weights = [one.weight for one in sound]
    began, held_mb, count = time.monotonic(), _memory_mb(), 0
    warnings.filterwarnings("error", "no explicit representation of timezones")
    warnings.filterwarnings("ignore", "Dataset has no geotransform")
    while count < inputs and time.monotonic() - began < seconds:
        chosen = draw.choices(sound, weights)[0]
        _one(chosen, damaged(chosen.content, draw), seen, keep)
        count += 1
        if count % 10_000 == 0:
            print(f"{count:,} in {time.monotonic() - began:.0f} s, {seen.failed.total()} failed", flush=True)
    taken_mb = _memory_mb() - held_mb
    if taken_mb > MOST_MB:
        seen.fail(f"over {MOST_MB} MB")
    print(f"{count:,} damaged files of {len(sound)} kinds in {time.monotonic() - began:.0f} s, {seen.failed.total()} failed.")
    print(f"{dict(sorted(seen.outcomes.items()))}")
    print(f"Slowest {seen.slowest_s:.1f} s, most memory {taken_mb:.0f} MB above the start.")
    for kind, times in seen.failed.most_common():
        print(f"  {times} x {kind}")
    return seen.failed.total()


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description="Damaged files into every reader.")
    asked.add_argument("--inputs", type=int, default=1_000_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--keep", type=Path)
    asked.add_argument("--seconds", type=float, default=float("inf"))
    told = asked.parse_args()
    sys.exit(1 if run(told.inputs, told.seed, told.keep, told.seconds) else 0)
