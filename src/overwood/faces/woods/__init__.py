"""The kit for the woods: an application of static files that tallies without signal, and packing it for any https
host."""

from __future__ import annotations

import functools
import hashlib
from pathlib import Path

APP = Path(__file__).resolve().parent / "app"
KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
}
_WORKER, _PAGE, _SHEET = "worker.js", "index.html", "kit.css"
# Colors and type of every face.
TOKENS = APP.parents[1] / "pages/static/tokens.css"
_LIST = "SHA256SUMS"


@functools.cache
def files() -> dict[str, bytes]:
    """Every file of the kit by name; the worker knows their names and a version made from their content."""
    content = {path.name: path.read_bytes() for path in sorted(APP.iterdir()) if path.suffix in KINDS}
    own_look = TOKENS.read_bytes().partition(b"/* The kit:")
    content[_SHEET] = content[_SHEET].replace(b"/* @TOKENS@ */", b"".join(own_look[1:]))
    made = hashlib.sha256(b"".join(name.encode() + body for name, body in content.items())).hexdigest()[:12]
    names = ", ".join(f'"{name}"' for name in content if name not in (_WORKER, _PAGE))
    worker = content[_WORKER].decode().replace("@VERSION@", made).replace('"@FILES@"', names)
    # Named at the head, modules are fetched side by side, not one depth of imports after another.
    scripts = [name for name in content if name.endswith(".js") and name != _WORKER]
    modules = "\n".join(f'<link rel="modulepreload" href="{name}">' for name in scripts)
    page = content[_PAGE].decode().replace("@MODULES@", modules)
    return content | {_WORKER: worker.encode(), _PAGE: page.encode()}


def checksums() -> str:
    """SHA-256 of every file, a line each, as checksum programs read them."""
    return "".join(f"{hashlib.sha256(body).hexdigest()}  {name}\n" for name, body in sorted(files().items()))


def pack(folder: Path) -> list[str]:
    """Write the kit with its checksum list into an empty folder, for any https host; returns the names written."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, body in files().items():
        (folder / name).write_bytes(body)
    (folder / _LIST).write_text(checksums(), encoding="ascii")
    return [*files(), _LIST]
