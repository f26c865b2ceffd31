"""Readers that stand on compiled libraries run in processes that can die alone, with words when one does."""

from __future__ import annotations

import io

import numpy as np
import pytest
import shapely
from PIL import Image

from overwood.ground.errors import BadRecords, Misuse, NotFound
from overwood.memory.exchange import apart, outlines, pictures
from overwood.memory.exchange.outlines import plain

SQUARE = shapely.Polygon([(-82.1, 37.5), (-82.09, 37.5), (-82.09, 37.51), (-82.1, 37.51)])
TEXT = f"K1; {SQUARE.wkt}\nK2; {SQUARE.wkt}\n".encode()


def _png(rows, columns, pixel=(1, 2, 3)):
    stream = io.BytesIO()
    Image.new("RGB", (columns, rows), pixel).save(stream, "PNG")
    return stream.getvalue()


def test_outlines_of_the_process_are_those_of_the_reader():
    said, read = outlines.read("k.wkt", TEXT), plain.read_apart("k.wkt", TEXT)

    assert (read.file, read.system, read.problems, read.notes) == (said.file, said.system, said.problems, said.notes)
    assert [(one.number, one.values, one.notes) for one in read.shapes] == [(one.number, one.values, one.notes) for one in said.shapes]
    assert all(one.polygon.equals_exact(other.polygon, 0) for one, other in zip(read.shapes, said.shapes, strict=True))


@pytest.mark.parametrize(
    ("name", "content", "said", "kind"),
    [("w.geojson", b"{", {}, BadRecords), ("k.wkt", TEXT, {"system": "EPSG:1"}, Misuse)],
)
def test_a_fault_of_the_process_is_the_fault_of_the_reader(name, content, said, kind):
    with pytest.raises(kind) as inside:
        outlines.read(name, content, **said)
    with pytest.raises(kind) as outside:
        plain.read_apart(name, content, **said)

    assert (str(outside.value), type(outside.value)) == (str(inside.value), type(inside.value))
    assert getattr(outside.value, "problems", ()) == getattr(inside.value, "problems", ())


@pytest.mark.parametrize("limits", [apart.Limits(memory=30_000_000), apart.Limits(written=1)], ids=["memory", "output"])
def test_a_process_that_breaks_a_limit_is_a_fault_of_the_file(limits):
    with pytest.raises(BadRecords, match=r"k\.wkt cannot be read") as fault:
        apart.answer("outlines", "k.wkt", TEXT, limits=limits)

    assert fault.value.problems[0].file == "k.wkt"
    assert "write it anew" in fault.value.problems[0].remedy


def test_a_process_that_never_ends_is_ended_and_said(monkeypatch):
    # The clock runs out at once, whatever the machine does.
    with pytest.raises(BadRecords) as fault:
        apart.answer("outlines", "k.wkt", TEXT, limits=apart.Limits(wait_seconds=0))

    assert "too long" in fault.value.problems[0].what


def test_a_picture_is_its_pixels():
    pixels = pictures.pixels("a.png", _png(70, 90))

    assert pixels.shape == (70, 90, 3)
    assert (pixels == np.array([1, 2, 3], dtype=np.uint8)).all()


def _huge():
    stream = io.BytesIO()
    Image.new("1", (16_000, 20_000)).save(stream, "PNG", compress_level=1)
    return stream.getvalue()


@pytest.mark.slow
@pytest.mark.parametrize("content", [lambda: b"no picture", lambda: _png(70, 90)[:60], _huge], ids=["text", "cut", "huge"])
def test_a_picture_that_cannot_be_read_is_said(content):
    with pytest.raises(NotFound, match="no picture that can be read"):
        pictures.pixels("a.png", content())
