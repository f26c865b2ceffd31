"""A photo of a sheet of boxes on its way into the tally: what was read, to be looked at beside the photo, and the lines
it comes to."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from overwood.desk.tally_forms import FORMS
from overwood.ground.errors import Misuse
from overwood.ground.species import by_code
from overwood.ground.tick_sheet import TickSheet
from overwood.ground.vocabulary import HEIGHT_CLASSES, height_class_words
from overwood.memory.exchange import tick_photo
from overwood.memory.exchange.tick_photo import ASKED, BLANK, MARKED

Cell = tuple[str, str, str]
_COUNT = re.compile(r"[0-9]{1,4}")


@dataclass(frozen=True)
class Seen:
    """What the photo of a sheet shows: the stems of each cell and the plots looked at, None where it must be asked, and
    the straightened photo (JPEG)."""

    sheet: TickSheet
    stems: Mapping[Cell, int | None]
    looked: Mapping[str, bool | None]
    picture: bytes


def look(stand: str, file: str, content: bytes) -> Seen:
    """Read the photo of a sheet of this stand. Raises OverwoodError when it cannot be read, or the sheet is another
    stand's."""
    sheet, boxes, looked, picture = tick_photo.states(file, content)
    check_stand(sheet, stand)
    cells: dict[Cell, list[tuple[int, str]]] = {}
    for box, state in zip(sheet.boxes, boxes, strict=True):
        cells.setdefault((box.point, box.species, box.height_class), []).append((box.stems, state))
    stems = {cell: _stems(read) for cell, read in cells.items()}
    seen = {box.point: {MARKED: True, BLANK: False}.get(state) for box, state in zip(sheet.looked, looked, strict=True)}
    # Stems on a plot that nobody is said to have looked at: one of the two is wrong.
    for point, _, _ in (cell for cell, count in stems.items() if count != 0):
        seen[point] = seen[point] or None
    return Seen(sheet, stems, seen, picture)


def check_stand(sheet: TickSheet, stand: str) -> None:
    """Refuse the sheet of another stand."""
    if sheet.stand != stand:
        raise Misuse(f"this is a sheet of {sheet.stand}, not of {stand}.", remedy=f"Open the tally of {sheet.stand}.")


def _stems(read: Sequence[tuple[int, str]]) -> int | None:
    """The stems of a cell; None where a box is unclear or one before a marked one was passed over."""
    singles = [state for stems, state in read if stems == 1]
    if any(state == ASKED for _, state in read) or singles != sorted(singles, key=lambda state: state != MARKED):
        return None
    return sum(stems for stems, state in read if state == MARKED)


def lines(sheet: TickSheet, stems: Mapping[Cell, str], looked: Sequence[str]) -> tuple[list[str], list[dict[str, str]]]:
    """The plots looked at and the lines of the tally, from what the person let stand. Raises Misuse when a cell is no
    whole number, or stems stand on a plot that was not looked at."""
    rows = []
    for cell in ((point, code, label) for point in sheet.points for code in sheet.species for label in HEIGHT_CLASSES):
        point, code, label = cell
        where = f"plot {point}, {by_code(int(code)).common_name}, {height_class_words(label)}"
        text = stems.get(cell, "").strip()
        if not _COUNT.fullmatch(text):
            raise Misuse(
                f"{where}: {text[:20] or 'nothing'!r} is no number of stems.", remedy="Look at the photo; 0 for none."
            )
        if int(text) and point not in looked:
            raise Misuse(f"{where}: stems on a plot that was not looked at.", remedy="Tick the plot, or take them out.")
        if int(text):
            blank = dict.fromkeys(FORMS["reproduction"].columns, "")
            rows.append(blank | {"point": point, "species": code, "height_class": label, "stems": str(int(text))})
    return [point for point in sheet.points if point in looked], rows
