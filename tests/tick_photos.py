"""Photos of sheets of boxes, made by program: marked by crosses, ticks, fills and pencil, then tilted, bent, shadowed, blurred and packed."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image, ImageDraw

from overwood.faces.papers import press
from overwood.ground.tick_sheet import TickSheet

PPI = 200
_MM = PPI / 25.4
HANDS = ("cross", "tick", "fill", "pencil")


def printed(content, folder, page=1):
    """A sheet as it comes from the printer, in shades of gray."""
    press.set_png("tally_sheet/ticks.typ", content, folder / "sheet.png", ppi=PPI, page=page)
    return Image.open(folder / "sheet.png").convert("L")


def marked(paper, boxes, hand, rng):
    """The paper with a mark in each of these boxes."""
    paper = paper.copy()
    pen = ImageDraw.Draw(paper)
    shade, width = (95, 3) if hand == "pencil" else (30, 4)
    for box in boxes:
        x, y = (np.array([box.x_mm, box.y_mm]) + rng.normal(0, 0.15, 2)) * _MM
        r = rng.uniform(0.9, 1.4) * _MM
        if hand == "fill":
            pen.ellipse((x - r, y - r, x + r, y + r), fill=shade)
        elif hand == "tick":
            pen.line([(x - r, y), (x - r / 3, y + r), (x + r, y - r)], fill=shade, width=width)
        else:
            pen.line([(x - r, y - r), (x + r, y + r)], fill=shade, width=width)
            pen.line([(x - r, y + r), (x + r, y - r)], fill=shade, width=width)
    return paper


def photographed(paper, rng, *, tilt=0.06, bend_mm=0.0, shadow=0.45, longest=2400, quality=70):
    """The paper as a phone sees it, as JPEG."""
    import cv2

    page = np.asarray(paper, np.float32) / 255
    rows, columns = page.shape
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float32)
    if bend_mm:
        wave = bend_mm * _MM * np.sin(np.pi * x / columns * rng.uniform(0.8, 1.6) + rng.uniform(0, 3))
        page = cv2.remap(page, x, y + wave.astype(np.float32), cv2.INTER_LINEAR, borderValue=1.0)
    edge = 0.12 * columns
    corners = np.array([(edge, edge), (columns + edge, edge), (columns + edge, rows + edge), (edge, rows + edge)], np.float32)
    seen = corners + rng.uniform(-tilt, tilt, (4, 2)).astype(np.float32) * columns
    seen -= seen.min(axis=0) - edge
    flat = np.array([(0, 0), (columns, 0), (columns, rows), (0, rows)], np.float32)
    size = tuple(int(side + edge) for side in seen.max(axis=0))
    # Paper on a dark clipboard.
    photo = cv2.warpPerspective(page, cv2.getPerspectiveTransform(flat, seen), size, borderValue=0.35, flags=cv2.INTER_AREA)
    if shadow:
        yy, xx = np.mgrid[0 : size[1], 0 : size[0]].astype(np.float32)
        angle, middle = rng.uniform(0, np.pi), rng.uniform(0.3, 0.7)
        side = (xx / size[0] - middle) * np.cos(angle) + (yy / size[1] - middle) * np.sin(angle)
        photo = photo * (1 - shadow / (1 + np.exp(-side * rng.choice([40.0, 400.0]))))
    scale = longest / max(photo.shape)
    photo = cv2.resize(photo, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    photo = cv2.GaussianBlur(photo, (0, 0), 0.6) + rng.normal(0, 0.02, photo.shape)
    out = io.BytesIO()
    Image.fromarray((np.clip(photo, 0, 1) * 235).astype(np.uint8)).convert("RGB").save(out, "JPEG", quality=quality)
    return out.getvalue()


def some_boxes(sheet: TickSheet, rng, count=120):
    """Boxes to mark: so many of stems, and most of the looked-at ones."""
    stems = [sheet.boxes[n] for n in sorted(rng.choice(len(sheet.boxes), count, replace=False))]
    return stems, [box for box in sheet.looked if rng.random() < 0.8]
