"""Records to figures, one file a subject; every figure of a stand by name."""

from __future__ import annotations

import datetime as dt

from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.judgement.evidence import acorns, light, overstory, reproduction
from overwood.judgement.rules import Rules


def all_figures(file: StandFile, rules: Rules, on: dt.date) -> dict[str, Figure]:
    """Everything the records of a stand support on a day."""
    known = file.as_of(on)
    found = overstory.figures(known, rules, on)
    found |= light.figures(known, rules, on, found)
    found |= reproduction.figures(known, rules, on, found["oak_sprouts_ac"], found["site_index_ft"])
    found |= acorns.figures(known, rules, on)
    return found
