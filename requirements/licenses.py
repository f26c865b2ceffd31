"""Writes the licenses that travel in the wheel: of every locked part, and of what is bundled into the pages.

Run it with the python of an environment that holds the lock, after `make lock` or `make assets`; the second needs assets/node_modules
and is left as it is where that folder is missing.
"""

from __future__ import annotations

import csv
import re
from importlib import metadata
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "src" / "overwood" / "licenses"
BUNDLED = ("ol", "rbush", "quickselect", "pbf", "idb", "uqr")
_ABSENT = "not installed on the machine that wrote this list; see its own package"


def locked() -> list[tuple[str, str]]:
    """Name and version of every part of the run lock."""
    text = (ROOT / "requirements" / "run.txt").read_text(encoding="utf-8")
    return re.findall(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)", text, flags=re.MULTILINE)


def license_of(name: str) -> str:
    """A part's license by its own metadata: the expression, else the classifiers, else the first line of its field."""
    try:
        told = metadata.metadata(name)
    except metadata.PackageNotFoundError:
        return _ABSENT
    classes = [line.rpartition("::")[2].strip() for line in told.get_all("Classifier") or [] if line.startswith("License ::")]
    field = (told.get("License") or "").strip().splitlines()
    return told.get("License-Expression") or ", ".join(classes) or (field[0] if field else "see its own package")


def texts_of(name: str) -> list[tuple[str, str]]:
    """The license files a part carries, as (file, text)."""
    try:
        files = metadata.files(name) or []
    except metadata.PackageNotFoundError:
        return []
    own = [file for file in files if ".dist-info" in str(file) and re.search(r"licen[cs]e|copying|notice", file.name, re.IGNORECASE)]
    return [(file.name, Path(str(file.locate())).read_text(encoding="utf-8", errors="replace")) for file in own]


def version_read(name: str) -> str:
    """The version whose license was read here; the lock may name another for a newer Python."""
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return ""


def write_locked() -> None:
    """The table of locked parts, and every license text once with the parts it belongs to."""
    FOLDER.mkdir(exist_ok=True)
    with (FOLDER / "locked.csv").open("w", encoding="utf-8", newline="") as stream:
        table = csv.writer(stream, lineterminator="\n")
        table.writerow(("part", "version", "license", "license read from version"))
        for name, version in sorted(locked()):
            table.writerow((name, version, license_of(name), version_read(name)))
    owners: dict[str, list[str]] = {}
    for name in sorted({name for name, _ in locked()}):
        for file, text in texts_of(name):
            owners.setdefault(text.strip(), []).append(f"{name}: {file}")
    _write_texts("locked.txt", [(", ".join(of), text) for text, of in owners.items()])


def _write_texts(file: str, texts: list[tuple[str, str]]) -> None:
    lines = "\n".join(f"{'=' * 100}\n{of}\n\n{text}\n" for of, text in texts)
    (FOLDER / file).write_text("\n".join(line.rstrip() for line in lines.splitlines()) + "\n", encoding="utf-8")


def write_bundled() -> None:
    modules = ROOT / "assets" / "node_modules"
    if not modules.is_dir():
        return
    files = [next(path for path in sorted((modules / name).iterdir()) if path.name.lower().startswith("licen")) for name in BUNDLED]
    _write_texts("bundled.txt", [(path.parent.name, path.read_text(encoding="utf-8").strip()) for path in files])


if __name__ == "__main__":
    write_locked()
    write_bundled()
