"""Another oak region: a folder with its own species, tables, thresholds, courses and cautions over the program's."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

from overwood.ground import tables
from overwood.ground.errors import BadRule, NotFound

HEAD = "region.toml"
VARIABLE = "OVERWOOD_REGION"


@dataclass(frozen=True)
class Region:
    """What a region says of itself."""

    name: str
    about: str
    status: str


def use(folder: Path) -> Region:
    """Read a region's files over the program's own; before anything else is asked. Raises NotFound when the folder or
    its head is not there; BadRule when its head lacks a name, what it is about, or the status of its numbers."""
    head = folder / HEAD
    if not head.is_file():
        raise NotFound(f"{folder} is no region: it has no {HEAD}.", remedy="See CONTRIBUTING, another oak region.")
    try:
        plain = tomllib.loads(head.read_text(encoding="utf-8"))
        region = Region(*(str(plain[key]) for key in ("name", "about", "status")))
    except (tomllib.TOMLDecodeError, KeyError) as fault:
        raise BadRule(f"{head} cannot be used: {fault}.", remedy="It needs name, about and status.") from fault
    if region.status not in tables.STATUSES:
        raise BadRule(f"{head} has status {region.status!r}.", remedy=f"Use {', '.join(tables.STATUSES)}.")
    tables.use_region(folder.resolve())
    return region
