"""Why: a short code with its values, worded at the end from the table of its trade."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from overwood.ground.doubt import Worded


@dataclass(frozen=True)
class Reason(Worded):
    """A reason, what would change it, what follows, or a heading; a value may be a reason of its own."""

    TABLES: ClassVar = (
        "judgement/course/reasons.csv",
        "judgement/gates/reasons.csv",
        "judgement/futures/reasons.csv",
        "judgement/fire/reasons.csv",
        "judgement/plan/reasons.csv",
    )
