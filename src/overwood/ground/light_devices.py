"""What light readings were taken with: the words people type for a device, and the kind it is."""

from __future__ import annotations

from overwood.ground import tables

TABLE = "ground/tables/light_devices.csv"


def kind_of(device: str) -> str | None:
    """The kind of a device of openness by the words typed for it, case and outer space aside; None where no word of it
    is known."""
    kinds = {row["word"]: row["kind"] for row in tables.rows(TABLE)}
    return next((kinds[word] for word in device.casefold().replace("-", " ").split() if word in kinds), None)


def sky_rule(kind: str) -> str:
    """The name of the rule that says how far from overhead a kind of device sees."""
    return next(row["sky_rule"] for row in tables.rows(TABLE) if row["kind"] == kind)
