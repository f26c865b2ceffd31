"""What a figure means, in the words of a forester to a landowner."""

from __future__ import annotations

import functools

from overwood.ground import measures, tables


def meanings() -> dict[str, tuple[str, str]]:
    """Word and meaning of each figure that is explained, in the system of units in force."""
    return _meanings_in(measures.system())


@functools.cache
def _meanings_in(system: str) -> dict[str, tuple[str, str]]:
    return {
        row["figure"]: (row["word"], measures.prose(row["meaning"]))
        for row in tables.rows("ground/tables/meanings.csv")
    }


def terms() -> dict[str, str]:
    """Meaning of each word of the trade that the pages use, in the system of units in force."""
    return _terms_in(measures.system())


@functools.cache
def _terms_in(system: str) -> dict[str, str]:
    return {row["word"]: measures.prose(row["meaning"]) for row in tables.rows("ground/tables/terms.csv")}
