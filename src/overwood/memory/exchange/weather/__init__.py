"""Hourly weather in: csv of any headings, or a TMY3 file; faults repaired with a note, or refused with a reason."""

from __future__ import annotations

from pathlib import Path

from overwood.ground.weather import Weather
from overwood.memory.exchange.weather.checks import checked
from overwood.memory.exchange.weather.columns import Reading, columns_of

__all__ = ["Reading", "read"]


def read(path: Path, how: Reading) -> Weather:
    """The weather of a file. Raises NotFound when the file cannot be read; Misuse when its columns, clock or units
    cannot be told, or too little of it holds."""
    return checked(columns_of(path, how), how, path.name)
