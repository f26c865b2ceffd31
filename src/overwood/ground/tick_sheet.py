"""A sheet of boxes for young stems, one tick a stem: what it asks, and where its boxes lie on the page.

The paper draws it and the reader of its photo looks for it, both from the text of its code alone.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

from overwood.ground.errors import Misuse
from overwood.ground.vocabulary import HEIGHT_CLASSES

# US letter [mm], as every paper of ours.
PAGE_MM = (215.9, 279.4)
# Sides of a box and of the four squares at the corners, and the squares' middles [mm].
BOX_MM, SQUARE_MM = 3.4, 7.0
CORNERS_MM = ((14.0, 14.0), (201.9, 14.0), (201.9, 265.4), (14.0, 265.4))
# The code's left upper corner and side [mm].
CODE_MM, CODE_SIDE_MM = (170.0, 22.0), 24.0
ROWS = 30
# What each box of a cell stands for: four stems one by one, then five more.
WORTH = (1, 1, 1, 1, 5)
_TOP_MM, ROW_MM = 60.0, 6.3
_LOOKED_MM, _FIRST_MM, _PITCH_MM, _GAP_MM = 25.0, 66.0, 4.4, 2.4
_CODE = re.compile(r"overwood ticks 1\|([^|]+)\|(\d+(?:\.\d+)?)\|(\d{1,6}(?:,\d{1,6})*)\|([^|\s]+)")


@dataclass(frozen=True)
class Box:
    """A box to tick: its middle [mm], the plot, and the species, class and stems it stands for; no species where it
    says that the plot was looked at."""

    x_mm: float
    y_mm: float
    point: str
    species: str = ""
    height_class: str = ""
    stems: int = 0


@dataclass(frozen=True)
class TickSheet:
    """A stand, the area of its plots [ac], the species and the plots that the sheet has lines for."""

    stand: str
    plot_area_ac: str
    species: tuple[str, ...]
    points: tuple[str, ...]

    @property
    def code(self) -> str:
        """All it holds, as the text of its code. Raises Misuse when a name would not be read back from it as it is."""
        text = self._text
        try:
            told = of_code(text)
        except Misuse:
            told = None
        if told != self:
            raise Misuse(
                f"the names of {self.stand} or of its plots, or their size, cannot stand on a sheet of boxes.",
                remedy="Take a sheet with lines, or name plots without blanks and commas.",
            )
        return text

    @property
    def _text(self) -> str:
        return f"overwood ticks 1|{self.stand}|{self.plot_area_ac}|{','.join(self.species)}|{','.join(self.points)}"

    @cached_property
    def looked(self) -> tuple[Box, ...]:
        """One box a plot: ticked where it was looked at."""
        step = len(self.species)
        return tuple(Box(_LOOKED_MM, _row_mm(n * step), point) for n, point in enumerate(self.points))

    @cached_property
    def boxes(self) -> tuple[Box, ...]:
        """All boxes of stems: line by line, class by class, from the left."""
        lines = ((point, species) for point in self.points for species in self.species)
        return tuple(
            Box(column_mm(place, n), _row_mm(row), point, species, height_class, stems)
            for row, (point, species) in enumerate(lines)
            for place, height_class in enumerate(HEIGHT_CLASSES)
            for n, stems in enumerate(WORTH)
        )


def points_a_sheet(species: int) -> int:
    """Plots that one sheet has room for."""
    return ROWS // max(species, 1)


def column_mm(place: int, box: int = 0) -> float:
    """The middle of a box of the class at this place, from the left edge of the page [mm]."""
    return _FIRST_MM + place * (len(WORTH) * _PITCH_MM + _GAP_MM) + box * _PITCH_MM


def _row_mm(row: int) -> float:
    return _TOP_MM + row * ROW_MM


def of_code(text: str) -> TickSheet:
    """The sheet that the text of a code describes. Raises Misuse when it is the code of something else, or of more
    lines than a sheet has."""
    match = _CODE.fullmatch(text.strip())
    sheet = match and TickSheet(match[1], match[2], tuple(match[3].split(",")), tuple(match[4].split(",")))
    if not sheet or len(sheet.species) * len(sheet.points) > ROWS or len(set(sheet.points)) < len(sheet.points):
        raise Misuse(
            f"the code on the picture is not that of a sheet of boxes: {text[:40]!r}.",
            remedy="Take the whole sheet, with the code at its upper right.",
        )
    return sheet
