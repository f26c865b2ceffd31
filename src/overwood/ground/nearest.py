"""The name that was most likely meant where a typed one is not there; none rather than a far guess."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

# Share of letters in common, as difflib counts them, below which a guess is no help: our own choice.
_CLOSE = 0.7
_FEWEST_LETTERS = 2


def nearest(word: str, names: Iterable[str]) -> str:
    """The one of ``names`` nearest to ``word``: what it begins, else what is spelt much like it; "" where nothing is
    near."""
    plain = {name.casefold(): name for name in names}
    asked = word.strip().casefold()
    begun = [name for name in plain if len(asked) >= _FEWEST_LETTERS and name.startswith(asked)]
    if begun:
        return plain[min(begun, key=len)]
    close = difflib.get_close_matches(asked, plain, n=1, cutoff=_CLOSE)
    return plain[close[0]] if close else ""
