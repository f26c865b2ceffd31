"""What a figure means, in the words of a forester to a landowner."""

from __future__ import annotations

import functools

from overwood.ground import tables


@functools.cache
def meanings() -> dict[str, tuple[str, str]]:
    """Word and meaning of each figure that is explained."""
    return {row["figure"]: (row["word"], row["meaning"]) for row in tables.rows("ground/tables/meanings.csv")}


@functools.cache
def terms() -> dict[str, str]:
    """Meaning of each word of the trade that the pages use."""
    return {row["word"]: row["meaning"] for row in tables.rows("ground/tables/terms.csv")}
