"""What a phone hands over otherwise than by request: tally files, pictures of the codes on its screen, what a scanner
read."""

from __future__ import annotations

from collections.abc import Sequence

from overwood.desk import book, tallies
from overwood.desk.tallies import Taken
from overwood.ground.errors import BadRecords, Misuse

_PICTURES = (b"\xff\xd8\xff", b"\x89PNG", b"RIFF", b"GIF8", b"BM")
_CODE = b"WOODS1/"


def take(files: Sequence[tuple[str, bytes]]) -> list[Taken]:
    """Take the taps of files (name, content) in: tallies each, and codes joined over all of them. All are read before
    any is kept. Raises BadRecords when one is damaged, a series of codes is not whole, or names no walk of this
    book."""
    from overwood.memory.exchange import screen_codes

    if not files:
        raise Misuse("no file was sent.", remedy="Choose the file that the phone saved, or the pictures of its codes.")
    whole, texts = [], []
    for name, content in files:
        if content.startswith(_PICTURES):
            texts += screen_codes.texts_of(name, content)
        elif content.lstrip().startswith(_CODE):
            texts += [line for line in content.decode("ascii", errors="replace").splitlines() if line.strip()]
        else:
            whole.append(content)
    whole += screen_codes.joined(texts)
    with book.store.atomic():
        return [tallies.take(content) for content in whole]


def texts_on(frame: bytes) -> list[str]:
    """The texts of the codes that a camera sees, none where it sees no code."""
    from overwood.memory.exchange import screen_codes

    try:
        return screen_codes.texts_of("frame", frame)
    except BadRecords:
        return []
