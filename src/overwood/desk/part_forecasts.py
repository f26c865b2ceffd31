"""Kept futures beside the parts of many stands, so that their advice reads what the book's does."""

from __future__ import annotations

import json
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from overwood.desk import kept
from overwood.desk.telling import plain
from overwood.ground.errors import BadRecords
from overwood.memory.exchange import parts

FILE = "forecasts.json"


@dataclass(frozen=True)
class Beside:
    """Forecasts of the stands of a part, the newest first, and the digest of the records they were made of."""

    records: str
    forecasts: tuple[kept.Forecast, ...]


def write(part: Path) -> None:
    """Lay the open book's forecasts of a part's stands beside its tables; no file where there are none."""
    rows = tuple(one for stand in sorted(parts.owners(part)["stand"]) for one in kept.forecasts(stand))
    if rows:
        text = json.dumps(plain(Beside(parts.digest(part), rows)), ensure_ascii=False, indent=1)
        (part / FILE).write_text(text, encoding="utf-8", newline="\n")


def read(part: Path) -> dict[str, list[kept.Forecast]]:
    """The forecasts of a part by stand; none where its tables are no longer those they were made of. Raises BadRecords
    when the file cannot be read."""
    from pydantic import TypeAdapter, ValidationError

    if not (part / FILE).is_file():
        return {}
    try:
        beside = TypeAdapter(Beside).validate_json((part / FILE).read_bytes())
    except (OSError, ValidationError) as fault:
        raise BadRecords(
            f"{part.name}/{FILE} cannot be read.", remedy="Delete it, or write the parts again."
        ) from fault
    if beside.records != parts.digest(part):
        return {}
    by_stand = defaultdict(list)
    for one in beside.forecasts:
        by_stand[one.stand].append(one)
    return by_stand
