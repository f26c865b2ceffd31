"""A photo of a sheet of boxes: straightened by its corners, its printed frames found again, each box read or asked
back.

The four squares give the plane, the frames how the paper bends. A sheet whose frames jump between neighbors was taken
by a wrong corner and is refused; a box neither clearly blank nor clearly marked is asked, never guessed.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground import plausible, tick_sheet
from overwood.ground.errors import Misuse
from overwood.ground.tick_sheet import BOX_MM, CODE_MM, CODE_SIDE_MM, CORNERS_MM, PAGE_MM, SQUARE_MM, TickSheet
from overwood.ground.vocabulary import HEIGHT_CLASSES
from overwood.memory.exchange import apart, pictures

Array = NDArray[np.float32]
BLANK, MARKED, ASKED = "blank", "marked", "asked"
# Pixels a millimeter of the straightened page, and the longest side of the photo that is worked on.
_PX, _LONGEST = 8, 3000
# The paper's brightness follows the shadow edges but no mark: marks are smaller than this [mm].
_PAPER_MM = 5.5
# How far from its place a frame is looked for, the width of its line, and what of a box is left out beside it [mm].
_REACH_MM, _LINE_MM, _INNER_MM = 1.4, 0.45, 0.7
# A square is darker than this share of the paper under it, found by a closing so many times its side.
_SQUARE_INK, _SQUARE_WIDTHS = 0.6, 1.5
# Corners in the order they are looked for, from the code on, and how far the plane so far may be off [mm].
_NEAREST_FIRST, _OFF_MM = (1, 0, 2, 3), 60
_COLORS = {MARKED: (0, 114, 178), ASKED: (213, 94, 0)}
_AGAIN = "Take it again from straight above, the whole sheet flat and in even light."


def states(file: str, content: bytes) -> tuple[TickSheet, list[str], list[str], bytes]:
    """The sheet, the state of its boxes of stems and of its looked-at boxes, and the straightened photo (JPEG) with
    what was read drawn over it. Raises OverwoodError when the picture cannot be read as a sheet of boxes."""
    answer, picture = apart.answer("ticks", file, content)
    return tick_sheet.of_code(answer["code"]), answer["boxes"], answer["looked"], picture


def read(file: str, content: bytes) -> tuple[dict[str, Any], bytes]:
    """What ``states`` tells, as plain data; run in a process that can die alone."""
    try:
        import cv2
    except ImportError as fault:
        raise Misuse(
            "the part that reads sheets of boxes is missing on this desk.",
            remedy='Install the extra part: pip install "overwood[sheets]".',
        ) from fault
    (rows, columns), body = pictures.read(file, content)
    gray = cv2.cvtColor(np.frombuffer(body, dtype=np.uint8).reshape(rows, columns, 3), cv2.COLOR_RGB2GRAY)
    if (shrink := _LONGEST / max(gray.shape)) < 1:
        gray = cv2.resize(gray, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    shades = np.asarray(gray, np.uint8)
    sheet, code_px = _code(file, shades)
    page = _straight(file, shades, code_px)
    ink = _ink(page)
    fit = _fit(ink)
    boxes = _places(file, fit, sheet)
    # A looked-at box lies left of its line and bends about as the first boxes there do: looked for from there.
    step = len(sheet.species) * len(HEIGHT_CLASSES) * len(tick_sheet.WORTH)
    bent = boxes[::step] - _middles(sheet.boxes[::step])
    looked = _found(fit, _middles(sheet.looked) + bent)
    read_boxes, read_looked = _states(ink, boxes), _states(ink, looked)
    drawn = _drawn(page, np.vstack((boxes, looked)), [*read_boxes, *read_looked])
    return {"code": sheet.code, "boxes": read_boxes, "looked": read_looked}, drawn


def _code(file: str, gray: NDArray[np.uint8]) -> tuple[TickSheet, Array]:
    import zxingcpp

    codes = zxingcpp.read_barcodes(gray, zxingcpp.BarcodeFormat.QRCode)
    if len(codes) != 1:
        seen = "no code" if not codes else f"{len(codes)} codes"
        raise Misuse(f"{file} shows {seen}, and a sheet of boxes has one.", remedy=_AGAIN)
    at = codes[0].position
    corners = [(p.x, p.y) for p in (at.top_left, at.top_right, at.bottom_right, at.bottom_left)]
    return tick_sheet.of_code(codes[0].text), np.array(corners, dtype=np.float32)


def _straight(file: str, gray: NDArray[np.uint8], code_px: Array) -> NDArray[np.uint8]:
    """The page seen from straight above: its plane by the four squares."""
    import cv2

    px_mm = float(np.linalg.norm(code_px - np.roll(code_px, 1, axis=0), axis=1).mean()) / CODE_SIDE_MM
    if px_mm < plausible.limit("tick_px_mm_least"):
        raise Misuse(f"{file} is too small: {px_mm:.1f} pixels to a millimeter of the sheet.", remedy=_AGAIN)
    corners = _corners(code_px, _squares(gray, px_mm), px_mm)
    if corners is None:
        raise Misuse(f"{file} does not show the four squares at the corners of the sheet.", remedy=_AGAIN)
    to_page = cv2.getPerspectiveTransform(corners, np.array(CORNERS_MM, np.float32) * _PX)
    width, height = (round(side * _PX) for side in PAGE_MM)
    return np.asarray(cv2.warpPerspective(gray, to_page, (width, height), borderValue=255), np.uint8)


def _corners(code_px: Array, squares: Array, px_mm: float) -> Array | None:
    """The squares at the corners, from the code on: each where the plane of what was found before says it is; None
    where none is there."""
    import cv2

    side, (left, top) = CODE_SIDE_MM, CODE_MM
    known_mm = [(left, top), (left + side, top), (left + side, top + side), (left, top + side)]
    known_px, corners = code_px.tolist(), {}
    for corner in _NEAREST_FIRST:
        plane, _ = cv2.findHomography(np.array(known_mm, np.float32), np.array(known_px, np.float32))
        near = cv2.perspectiveTransform(np.array([[CORNERS_MM[corner]]], np.float32), plane)[0, 0]
        far = np.linalg.norm(squares - near, axis=1)
        if not len(far) or far.min() > _OFF_MM * px_mm:
            return None
        corners[corner] = squares[far.argmin()]
        known_mm.append(CORNERS_MM[corner])
        known_px.append(corners[corner].tolist())
    return np.array([corners[corner] for corner in range(len(CORNERS_MM))], np.float32)


def _squares(gray: NDArray[np.uint8], px_mm: float) -> Array:
    """Middles of the dark squares of about the size of those at the corners."""
    import cv2

    # A closing wider than a square follows the edge of a shadow, which a mean about the square does not.
    dark = (gray < _SQUARE_INK * _closed(gray, _SQUARE_WIDTHS * SQUARE_MM * px_mm)).astype(np.uint8)
    shapes, _ = cv2.findContours(dark, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    area, middles = (SQUARE_MM * px_mm) ** 2, []
    for shape in shapes:
        size = cv2.contourArea(shape)
        box = cv2.minAreaRect(shape)
        if 0.3 * area < size < 2.5 * area and size > 0.8 * box[1][0] * box[1][1] and min(box[1]) > 0.6 * max(box[1]):
            middles.append(box[0])
    return np.array(middles, np.float32).reshape(-1, 2)


def _ink(page: NDArray[np.uint8]) -> Array:
    """How much darker than the paper each pixel is, 0 to 1."""
    paper = _closed(page, _PAPER_MM * _PX)
    ink: Array = np.clip(1 - page.astype(np.float32) / np.maximum(paper, 1), 0, 1).astype(np.float32)
    return ink


def _closed(gray: NDArray[np.uint8], size_px: float) -> NDArray[np.uint8]:
    """The brightness of what lies below dark things narrower than this."""
    import cv2

    kernel = cv2.getStructuringElement(cv2.MORPH_RECT, (round(size_px), round(size_px)))
    return np.asarray(cv2.morphologyEx(gray, cv2.MORPH_CLOSE, kernel), np.uint8)


def _middles(boxes: tuple[tick_sheet.Box, ...]) -> Array:
    return np.array([(box.x_mm, box.y_mm) for box in boxes], np.float32)


def _places(file: str, fit: Array, sheet: TickSheet) -> Array:
    """Where the printed frames lie [mm]: each found near its place, smoothed over its neighbors."""
    import cv2

    middles = _middles(sheet.boxes)
    moves = _found(fit, middles) - middles
    grid = moves.reshape(-1, len(HEIGHT_CLASSES) * len(tick_sheet.WORTH), 2)
    smooth = np.stack([cv2.medianBlur(np.ascontiguousarray(grid[..., axis]), 5) for axis in (0, 1)], axis=-1)
    jumps = [np.abs(np.diff(smooth, axis=axis)).max(initial=0.0) for axis in (0, 1)]
    most = plausible.limit("tick_jump_most_mm")
    strayed = float((np.abs(grid - smooth).max(axis=-1) > most).mean())
    if max(jumps) > most or strayed > plausible.limit("tick_strayed_most_share"):
        raise Misuse(f"the boxes on {file} do not lie where the sheet has them.", remedy=_AGAIN)
    return middles + smooth.reshape(-1, 2)


def _found(fit: Array, middles: Array) -> Array:
    """Where a frame fits best near each of these places [mm]."""
    reach, places = round(_REACH_MM * _PX), np.empty_like(middles)
    for n, (x, y) in enumerate(np.rint(middles * _PX).astype(int)):
        window = fit[y - reach : y + reach + 1, x - reach : x + reach + 1]
        row, column = np.unravel_index(window.argmax(), window.shape)
        places[n] = (x + column - reach) / _PX, (y + row - reach) / _PX
    return places


def _fit(ink: Array) -> Array:
    import cv2

    return np.asarray(cv2.filter2D(ink, -1, _frame()), np.float32)


def _frame() -> Array:
    """A kernel that answers most where a frame lies: its line counts for it, the paper about it against it."""
    half = round((BOX_MM / 2 + 0.8) * _PX)
    far = np.abs(np.arange(-half, half + 1)) / _PX
    ring = np.maximum(far[:, None], far[None])
    on = np.abs(ring - BOX_MM / 2) <= _LINE_MM / 2
    off = ring > BOX_MM / 2 + _LINE_MM
    return (on / on.sum() - off / off.sum()).astype(np.float32)


def _states(ink: Array, places: Array) -> list[str]:
    half = round((BOX_MM / 2 - _INNER_MM) * _PX)
    dark, blank, marked = (plausible.limit(f"tick_{name}_share") for name in ("ink", "blank_most", "marked_least"))
    squares = []
    for x, y in np.rint(places * _PX).astype(int):
        share = float((ink[y - half : y + half + 1, x - half : x + half + 1] > dark).mean())
        squares.append(BLANK if share < blank else MARKED if share > marked else ASKED)
    return squares


def _drawn(page: NDArray[np.uint8], places: Array, read: list[str]) -> bytes:
    """The page with a frame about each box that holds anything: what is marked, and thicker what is asked."""
    import cv2

    picture = cv2.cvtColor(page, cv2.COLOR_GRAY2RGB)
    half = round(BOX_MM * 0.62 * _PX)
    for (x, y), state in zip(np.rint(places * _PX).astype(int).tolist(), read, strict=True):
        if state != BLANK:
            cv2.rectangle(
                picture, (x - half, y - half), (x + half, y + half), _COLORS[state], 3 if state == MARKED else 8
            )
    done, packed = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 70])
    assert done
    return bytes(packed)
