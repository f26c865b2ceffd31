"""What a column holds as it is written: its span where it is numbers, else its commonest cells with their counts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from statistics import median

from overwood.ground.measures import many

_SHOWN = 6
# Other cells, a number of them too few to make a column one of words: one in so many.
_FEW = 3
# As few different numbers are codes.
_CODES = 4


def of(cells: Iterable[str]) -> tuple[str, ...]:
    """The cells of a column in a few words; none where it is empty."""
    counts = Counter(text for cell in cells if (text := cell.strip()))
    numbers = {text: number for text in counts if (number := _number(text)) is not None}
    others = Counter({text: count for text, count in counts.items() if text not in numbers})
    if len(numbers) <= _CODES or others.total() * _FEW > counts.total():
        return _commonest(counts)
    every = [number for text, number in numbers.items() for _ in range(counts[text])]
    span = f"{min(every):g} to {max(every):g}, middle {median(every):g} in {many(len(every), 'cell')}"
    return (span, *(f"no number: {one}" for one in _commonest(others)))


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None


def _commonest(counts: Counter[str]) -> tuple[str, ...]:
    shown = tuple(f"{text[:40]} ({count})" for text, count in counts.most_common(_SHOWN))
    return (*shown, *[f"and {len(counts) - _SHOWN} more"] * (len(counts) > _SHOWN))
