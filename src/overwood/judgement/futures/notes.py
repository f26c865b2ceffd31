"""What is to be said beside a run of futures: a short code with its values, worded at the end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from overwood.ground.doubt import Worded


@dataclass(frozen=True)
class Note(Worded):
    """One thing that was taken for granted, or that this stand makes of the courses."""

    TABLE: ClassVar = "judgement/futures/notes.csv"
