"""QR codes: series of them from a phone's screen read and joined, and single ones drawn for labels."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable

from overwood.ground.errors import BadRecords, Problem
from overwood.memory.exchange import apart, pictures

_LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
_PART = re.compile(r"WOODS1/([0-9A-F]{8})/([0-9]{1,3})/([0-9]{1,3})/(.*)", flags=re.DOTALL)


def texts_of(file: str, content: bytes) -> list[str]:
    """The texts of the codes on a picture. Raises BadRecords when no code can be read on it."""
    texts: list[str] = apart.answer("codes", file, content)[0]
    if not texts:
        raise _fault(
            file,
            "No code can be read on this picture.",
            "Take it again, straight and near, with the whole code and no glare.",
        )
    return texts


def read(file: str, content: bytes) -> tuple[list[str], bytes]:
    """The texts of the codes on a picture, none where there is none; run in a process that can die alone."""
    import numpy as np
    import zxingcpp

    (rows, columns), body = pictures.read(file, content)
    pixels = np.frombuffer(body, dtype=np.uint8).reshape(rows, columns, 3)
    return [one.text for one in zxingcpp.read_barcodes(pixels, zxingcpp.BarcodeFormat.QRCode)], b""


def joined(texts: Iterable[str]) -> list[bytes]:
    """The contents of every series, whole; the order of the codes and repeats do not matter. Raises BadRecords when a
    text is no code of a tally, a series lacks codes, or what it comes to is not what the phone showed."""
    series: dict[tuple[str, int], dict[int, bytes]] = {}
    for text in texts:
        part = _PART.fullmatch(text.strip("\r\n"))
        if part is None or not 1 <= int(part[2]) <= int(part[3]):
            raise _fault(
                text[:30], "This is no code of a tally.", "Photograph the codes under Send or save, Show as codes."
            )
        places = series.setdefault((part[1], int(part[3])), {})
        body = bytes_of(part[4])
        if places.setdefault(int(part[2]), body) != body:
            raise _fault(part[1], f"Code {part[2]} was read twice and differs.", "Photograph it again.")
    return [_whole(mark, count, places) for (mark, count), places in series.items()]


def _whole(mark: str, count: int, places: dict[int, bytes]) -> bytes:
    missing = [str(place) for place in range(1, count + 1) if place not in places]
    if missing:
        what = f"The series {mark} has {count} codes, and {len(missing)} are not here: {', '.join(missing)}."
        raise _fault(
            mark,
            what,
            "Photograph those too and bring all together; nothing was taken in, and the phone keeps its taps.",
        )
    content = b"".join(places[place] for place in range(1, count + 1))
    if hashlib.sha256(content).hexdigest()[:8].upper() != mark:
        raise _fault(mark, "The series does not come to what the phone showed.", "Photograph it again, or save a file.")
    return content


def bytes_of(letters: str) -> bytes:
    """The bytes of letters of a code's own alphabet (RFC 9285, section 4). Raises BadRecords when a letter or a group
    of letters stands for nothing."""
    out = bytearray()
    for start in range(0, len(letters), 3):
        group = letters[start : start + 3]
        value = sum(_place(letter) * 45**power for power, letter in enumerate(group))
        size = len(group) - 1
        if size == 0 or value >= 256**size:
            raise _fault(letters[:30], "The code is damaged.", "Photograph it again.")
        out += value.to_bytes(size, "big")
    return bytes(out)


def _place(letter: str) -> int:
    place = _LETTERS.find(letter)
    if place < 0:
        raise _fault(letter, "The code is damaged.", "Photograph it again.")
    return place


def svg(text: str) -> str:
    """A code that holds this text, as SVG without its quiet zone."""
    import zxingcpp

    return str(zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode).to_svg(add_quiet_zones=False))


def _fault(file: str, what: str, remedy: str) -> BadRecords:
    return BadRecords(f"{what} {remedy}", (Problem(what=what, file=file, remedy=remedy),))
