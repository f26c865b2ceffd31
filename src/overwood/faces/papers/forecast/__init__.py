"""The forecast for the owner: what comes back under each choice, in plain words and frequencies, on two pages."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from overwood.faces.papers import press
from overwood.faces.papers.owner_brief import sentence
from overwood.ground.measures import many
from overwood.ground.records import StandFile
from overwood.judgement.course.steps import caution
from overwood.judgement.futures import proof
from overwood.judgement.futures.causes import LUCK, REST
from overwood.judgement.futures.run import Futures, Outcome

_HALF = 0.5


def write(futures: Futures, file: StandFile, on: dt.date, target: Path) -> None:
    """Write the forecast as PDF."""
    press.set_pdf("forecast/page.typ", content(futures, file, on), target)


def of_ten(chance: float) -> str:
    """A chance as people say it."""
    tens = round(10 * chance)
    if tens == 0:
        return "hardly ever" if chance > 0 else "never"
    if tens == 10 and chance < 1:
        return "nearly always"
    return f"{many(tens, 'time')} of 10"


def content(futures: Futures, file: StandFile, on: dt.date) -> dict[str, Any]:
    """Everything the template prints."""
    # Nobody can be surer of luck.
    best, known = futures.best, [cause for cause in futures.causes if cause.entry not in (LUCK, REST)]
    return {
        "title": f"What will grow back, stand {futures.stand}",
        "subtitle": (
            f"{file.stand.name or futures.stand}, {on.day} {on:%B %Y}; {futures.futures:,} futures tried on the "
            f"computer from the count {futures.visit}"
        ),
        "footer": "Overwood. A bet with stated odds; no species is promised.",
        "headline": _headline(best),
        "lead": (
            "We took the young trees that were counted in your woods. On the computer they grew, died, "
            "were shaded, eaten, burned and cut, many times over. "
            "Each time had its own acorn years and its own guess at what no one knows for sure. The table "
            "says how often oak came back."
        ),
        "chart": press.svg(chart(futures)),
        "rows": [
            {
                "course": outcome.course.name,
                "stand": of_ten(outcome.oak_stand_chance),
                "part": of_ten(outcome.oak_part_chance),
                "years": _years(outcome),
            }
            for outcome in futures.outcomes
        ],
        "sure": _sure(futures, best),
        "measure": [f"{cause.words[:1].upper()}{cause.words[1:]}." for cause in known[:3]],
        "next": [
            "Count the young oaks again every year or two on the same plots; the forecast is only as good "
            "as the last count.",
            "Ask your forester for the next step of this stand and its season; nothing here replaces a "
            "walk through it.",
        ],
        "cautions": [caution(name) for name in ("forecast", "money", "felling")],
    }


def _headline(best: Outcome) -> str:
    if best.oak_part_chance < _HALF:
        return (
            "None of the choices tried brings oak back more often than not. The best of them, "
            f"“{best.course.name}”, keeps oak as a part of the woods "
            f"{of_ten(best.oak_part_chance)}."
        )
    return (
        f"The best odds here: “{best.course.name}”. Oak stays a part of the woods "
        f"{of_ten(best.oak_part_chance)}, and makes an oak stand again "
        f"{of_ten(best.oak_stand_chance)}."
    )


def _years(outcome: Outcome) -> str:
    if outcome.years_to_release is None:
        return "they stay"
    low, middle, high = outcome.years_to_release
    return f"{middle:.0f}" if low == high else f"{middle:.0f}, mostly {low:.0f} to {high:.0f}"


def _sure(futures: Futures, best: Outcome) -> list[str]:
    return [
        _span(best),
        f"What we do not know makes {best.not_known_share:.0%} of the spread. Luck makes the rest.",
        _winners(best),
        f"Tests by others: the program agrees with {best.record} of those with steps like these. Some of "
        f"them helped to set it; of the rest it agrees with {proof.record_of(best.course.numbers, blind=True)}.",
        _waited(best),
        f"Tried again with other luck, the odds here move by about {100 * futures.seed_error:.1f} of 100 or less.",
        *(sentence(note) for note in futures.told),
        "Most of this rests on few studies, or on guesses with a range. Compare the choices. Do not count the stems.",
    ]


def _waited(best: Outcome) -> str:
    if round(best.years_waited, 1) == 0:
        return "The cut did not wait for acorns."
    return f"The cut waited {best.years_waited:.1f} years for acorns on average."


def _span(best: Outcome) -> str:
    low, high = (round(10 * share) for share in best.oak_stand_span)
    if low == high:
        return f"With other guesses, an oak stand under “{best.course.name}” came back about as often."
    return f"With other guesses, an oak stand under “{best.course.name}” came back {low} to {high} times of 10."


def _winners(best: Outcome) -> str:
    """Who holds the ground where oak does not."""
    shares = best.leaders_share
    maple, poplar = shares["tolerant"], shares["pioneer"]
    names = (
        ("maple and beech", "yellow-poplar and birch")
        if maple >= poplar
        else ("yellow-poplar and birch", "maple and beech")
    )
    most, least = max(maple, poplar), min(maple, poplar)
    return (
        f"Where oak loses, {names[0]} win most often: {10 * most:.0f} spots of 10. Then come {names[1]}: "
        f"{10 * least:.0f} of 10."
    )


def chart(futures: Futures) -> dict[str, Any]:
    """Ten futures of each course: oak stand, oak as a part, lost."""
    values = []
    for outcome in futures.outcomes:
        stand, part = outcome.oak_stand_chance, outcome.oak_part_chance
        for rank, (what, share) in enumerate(
            (("an oak stand", stand), ("oak a part of it", part - stand), ("little or no oak", 1 - part))
        ):
            values.append({"course": outcome.course.name, "what": what, "of ten": round(10 * share, 3), "rank": rank})
    order = ["an oak stand", "oak a part of it", "little or no oak"]
    colour = {"domain": order, "range": [press.LOOK["oak"], press.LOOK["rival"], press.LOOK["faint"]]}
    return {
        "width": 360,
        "height": {"step": 17},
        "data": {"values": values},
        "mark": {"type": "bar"},
        "encoding": {
            "y": {"field": "course", "type": "nominal", "sort": None, "axis": {"title": None, "labelLimit": 200}},
            "x": {
                "field": "of ten",
                "type": "quantitative",
                "scale": {"domain": [0, 10]},
                "axis": {"title": "of ten futures"},
            },
            "color": {"field": "what", "type": "nominal", "scale": colour, "sort": order},
            "order": {"field": "rank", "sort": "ascending"},
        },
    }
