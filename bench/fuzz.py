"""Damaged files, by the hundred thousand, into every reader of foreign files: a fault in words, or it was read.

    python bench/fuzz.py --inputs 20000 --seed 1

Seeds are the demo's files, what `bench/fuzz_corpus/` keeps (inputs that once broke a reader or misled it). A reader
fails by any other exception than a fault of records, by more than ten seconds, or by more than a gigabyte above what the process held before.
Failures are written to --keep.
Workbooks and pictures are not among them yet.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import random
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
CORPUS = ROOT / "bench" / "fuzz_corpus"
MOST_S, MOST_MB = 10.0, 1_000
_NASTY = (
    b"\0", b"\xff\xfe", b"\xef\xbb\xbf", b'"', b"\r", b"NaN", b"inf", b"1e999", b"-0", b"9998-12-31", b"0000-00-00", b"=1+1", b"[[[[", b"{",
    b"</a>", b"\xed\xa0\x80", b"99999999999999999999", b"1/0", b",,,,,,,,", b"\t", b"&#0;", b"PK\x03\x04",
)  # fmt: skip

Reader = Callable[[str, bytes], object]


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


def _file(name: str, content: bytes) -> Path:
    path = Path(tempfile.gettempdir()) / f"overwood-fuzz-{name}"
    path.write_bytes(content)
    return path


def seeds() -> list[tuple[str, Reader, bytes]]:
    """What is damaged: the name a reader sees, the reader, and a sound content."""
    demo, short = ROOT / "demo", 4_000
    found: list[tuple[str, Reader, bytes]] = []
    for path in sorted((demo / "vesperlick").glob("*.csv")):
        found.append((path.name, _tables, path.read_bytes()[:short]))
    found.append(("weather.csv", _weather, (demo / "weather.csv").read_bytes()[: 20 * short]))
    found.append(("prices.toml", _prices, (demo / "prices.toml").read_bytes()))
    box = b'{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"stand":"S1"},"geometry":{"type":"Polygon",'
    box += b'"coordinates":[[[-50,37.5],[-49.9,37.5],[-49.9,37.6],[-50,37.5]]]}}]}'
    found += [("a.geojson", _outlines, box), ("a.wkt", _outlines, b"S1 POLYGON ((-50 37.5, -49.9 37.5, -49.9 37.6, -50 37.5))")]
    kml = b'<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>S1</name><Polygon><outerBoundaryIs><LinearRing>'
    kml += b"<coordinates>-50,37.5 -49.9,37.5 -49.9,37.6 -50,37.5</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
    found.append(("a.kml", _outlines, kml + b"</Document></kml>"))
    found.append(("a.zip", _tables, _zipped(demo / "vesperlick")))
    readers = {"tables": _tables, "outlines": _outlines, "weather": _weather, "prices": _prices}
    for path in sorted(CORPUS.glob("*/*")):
        found.append((path.name.split("-", 1)[-1], readers[path.parent.name], path.read_bytes()))
    return found


def _zipped(folder: Path) -> bytes:
    import zipfile

    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in ("visits.csv", "rings.csv", "stands.csv"):
            archive.writestr(name, (folder / name).read_bytes())
    return stream.getvalue()


def damaged(content: bytes, draw: random.Random) -> bytes:
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


def run(inputs: int, seed: int, keep: Path | None) -> int:
    """Read so many damaged files; returns how many failed."""
    from overwood.ground.errors import OverwoodError

    draw, sound = random.Random(seed), seeds()
    seen, failed, slowest = Counter[str](), Counter[str](), 0.0
    began, held_mb = time.monotonic(), _memory_mb()
    for _ in range(inputs):
        name, reader, content = draw.choice(sound)
        hurt = damaged(content, draw)
        at = time.monotonic()
        try:
            reader(name, hurt)
            seen["read"] += 1
        except OverwoodError:
            seen["fault in words"] += 1
        except Exception as fault:
            place = traceback.extract_tb(fault.__traceback__)[-1]
            kind = f"{reader.__name__.strip('_')}: {type(fault).__name__} at {Path(place.filename).name}:{place.lineno}: {str(fault)[:80]}"
            if kind not in failed and keep is not None:
                folder = keep / reader.__name__.strip("_")
                folder.mkdir(parents=True, exist_ok=True)
                (folder / f"{hashlib.sha256(hurt).hexdigest()[:8]}-{name}").write_bytes(hurt)
            failed[kind] += 1
        took = time.monotonic() - at
        slowest = max(slowest, took)
        if took > MOST_S:
            failed[f"{name}: over {MOST_S:.0f} s"] += 1
    taken_mb = _memory_mb() - held_mb
    if taken_mb > MOST_MB:
        failed[f"over {MOST_MB} MB"] += 1
    print(f"{inputs:,} damaged files of {len(sound)} kinds in {time.monotonic() - began:.0f} s: {dict(seen)}, {failed.total()} failed.")
    print(f"Slowest {slowest:.1f} s, most memory {taken_mb:.0f} MB above the start.")
    for kind, count in failed.most_common():
        print(f"  {count} x {kind}")
    return failed.total()


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description="Damaged files into every reader.")
    asked.add_argument("--inputs", type=int, default=1_000_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--keep", type=Path)
    told = asked.parse_args()
    sys.exit(1 if run(told.inputs, told.seed, told.keep) else 0)
