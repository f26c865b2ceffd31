"""Pictures: a photo as its pixels, and where a map's picture lies, both read in a process of their own."""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray

from overwood.ground.errors import NotFound
from overwood.memory.exchange import apart

# A camera's largest pictures have some 100 million pixels: our own limit.
MOST_PIXELS = 150_000_000


def read(file: str, content: bytes) -> tuple[tuple[int, int], bytes]:
    """Rows and columns of a picture, and its pixels row by row, red, green and blue of a byte each. Raises NotFound
    when it is no picture that can be read, or has more pixels than a camera takes."""
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = MOST_PIXELS // 2  # the library refuses twice as many
    try:
        with Image.open(io.BytesIO(content)) as picture:
            pixels = picture.convert("RGB")
    except (OSError, ValueError, SyntaxError, EOFError, Image.DecompressionBombError) as fault:
        raise NotFound(
            f"{file} is no picture that can be read: {fault}.", remedy="Give the JPEG as the camera wrote it."
        ) from fault
    return (pixels.height, pixels.width), pixels.tobytes()


def pixels(file: str, content: bytes) -> NDArray[np.uint8]:
    """The pixels of a picture, shape (rows, columns, 3)."""
    (rows, columns), body = apart.answer("picture", file, content)
    return np.frombuffer(body, dtype=np.uint8).reshape(rows, columns, 3)
