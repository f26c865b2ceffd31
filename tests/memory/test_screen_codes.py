"""Series of codes: whole in any order or refused with words; letters as the published standard has them; damage is seen."""

from __future__ import annotations

import hashlib
import io
import random

import pytest
from PIL import Image

from overwood.ground.errors import BadRecords
from overwood.memory.exchange import screen_codes

LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"


def letters(content: bytes) -> str:
    """Written anew from RFC 9285, section 4.2, as the phone does it."""
    text = ""
    for at in range(0, len(content), 2):
        value, size = int.from_bytes(content[at : at + 2], "big"), 3 if at + 1 < len(content) else 2
        text += "".join(LETTERS[value // 45**power % 45] for power in range(size))
    return text


def series(content: bytes, size: int = 100) -> list[str]:
    mark, count = hashlib.sha256(content).hexdigest()[:8].upper(), -(-len(content) // size)
    return [f"WOODS1/{mark}/{n + 1}/{count}/{letters(content[n * size : (n + 1) * size])}" for n in range(count)]


@pytest.mark.parametrize(
    ("text", "content"), [("BB8", b"AB"), ("%69 VD92EX0", b"Hello!!"), ("UJCLQE7W581", b"base-45"), ("QED8WEX0", b"ietf!")]
)
def test_letters_are_those_of_the_published_examples(text, content):
    """RFC 9285 (2022), sections 4.3 and 4.4."""
    assert screen_codes.bytes_of(text) == content


def test_a_series_in_any_order_with_repeats_comes_whole():
    content = random.Random(3).randbytes(1_234)
    parts = series(content) + series(content)[:5]
    random.Random(4).shuffle(parts)
    assert screen_codes.joined(parts) == [content]


def test_two_series_are_told_apart():
    one, two = b"one" * 90, b"two" * 80
    assert sorted(screen_codes.joined([*series(one), *series(two)])) == [one, two]


def test_half_a_series_is_refused_and_names_what_is_missing():
    parts = series(b"x" * 500 + b"y")
    with pytest.raises(BadRecords, match=r"has 6 codes, and 2 are not here: 2, 5.*nothing was taken in"):
        screen_codes.joined([parts[0], parts[2], parts[3], parts[5]])


def test_every_changed_letter_of_a_series_is_seen():
    content = random.Random(5).randbytes(90)
    (text,) = series(content)
    start = text.rindex("/", 0, 24) + 1
    for place in range(start, len(text)):
        other = LETTERS[(LETTERS.index(text[place]) + 7) % 45]
        with pytest.raises(BadRecords):
            screen_codes.joined([text[:place] + other + text[place + 1 :]])


@pytest.mark.parametrize("text", ["", "WOODS1/0000/1/1/", "WOODS1/01234567/3/2/BB8", "WOODS1/01234567/0/1/BB8", "something else"])
def test_what_is_no_code_of_a_tally_is_refused(text):
    with pytest.raises(BadRecords, match="no code of a tally"):
        screen_codes.joined([text])


def test_a_picture_without_a_code_says_so():
    stream = io.BytesIO()
    Image.new("RGB", (300, 300), "white").save(stream, "PNG")
    with pytest.raises(BadRecords, match="No code can be read"):
        screen_codes.texts_of("white.png", stream.getvalue())
