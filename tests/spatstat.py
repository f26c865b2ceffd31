"""The Lansing Woods stem map out of Debian's r-cran-spatstat.data, read without R."""

from __future__ import annotations

import gzip
import warnings
import zlib
from pathlib import Path

import numpy as np
import rdata

PLACES = ("/usr/lib/R/site-library/spatstat.data/data", "/usr/lib/R/library/spatstat.data/data")
FEET = 924.0


def folder() -> Path | None:
    return next((Path(place) for place in PLACES if (Path(place) / "Rdata.rdx").exists()), None)


def _converted(content: bytes):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return rdata.conversion.convert(rdata.parser.parse_data(content, extension=".rds"))


def lansing(data: Path) -> tuple[np.ndarray, np.ndarray, list[str]]:
    """East and north in feet, and the kind of each of the 2,251 trees."""
    index = _converted(gzip.decompress((data / "Rdata.rdx").read_bytes()))
    start, length = (int(value) for value in index["variables"]["lansing"])
    block = (data / "Rdata.rdb").read_bytes()[start : start + length]
    found = _converted(zlib.decompress(block[4:]))
    return np.asarray(found["x"]) * FEET, np.asarray(found["y"]) * FEET, [str(kind) for kind in found["marks"]]
