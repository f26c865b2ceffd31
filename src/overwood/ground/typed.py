"""Numbers as a person types them."""

from __future__ import annotations

import re

_THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d*)?")


def number(text: str) -> float:
    """The number of a typed text; commas may only part thousands.

    Raises
    ------
    ValueError
        when it is none, or a comma stands where it may mean a decimal point: '1,5' is not 15.

    Examples
    --------
    >>> number(" 1,200.5 ")
    1200.5
    """
    plain = text.strip()
    if "_" in plain or ("," in plain and not _THOUSANDS.fullmatch(plain)):
        raise ValueError(f"{text!r} is no number")
    return float(plain.replace(",", ""))
