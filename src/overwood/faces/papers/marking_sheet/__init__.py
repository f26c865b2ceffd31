"""The marking sheet for the crew: what stays and why, the floor before and after, the leave trees in walking order; or
the rule."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from overwood.desk import marking as desk
from overwood.faces.papers import language, light_map, marking_map, press
from overwood.faces.papers.language import ENGLISH, Text, Words
from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.ground.species import by_code
from overwood.judgement.leave_rule import RuleSheet
from overwood.judgement.light.gain import StateLight
from overwood.judgement.stem_map import Light

_CAUTIONS = ("felling", "snags", "boundary", "herbicide", "field")


def write(marked: desk.Marked, on: dt.date, target: Path, tongue: str = ENGLISH) -> None:
    """Write the sheet of a marked stem map as PDF."""
    press.set_pdf("marking_sheet/map.typ", content(marked, on, tongue), target)


def write_rule(
    rule: RuleSheet,
    lights: Sequence[StateLight],
    on: dt.date,
    target: Path,
    warnings: Sequence[str] = (),
    tongue: str = ENGLISH,
) -> None:
    """Write the rule sheet of a stand without a map as PDF."""
    press.set_pdf("marking_sheet/rule.typ", rule_content(rule, lights, on, warnings, tongue), target)


def content(marked: desk.Marked, on: dt.date, tongue: str = ENGLISH) -> dict[str, Any]:
    """Everything the template of a map prints."""
    words = language.words("marking_sheet", tongue)
    block, made = marked.block, marked.marking
    everything = np.ones(len(block.stems), dtype=bool)
    laid, leave, take = marked.strips, made.leave, np.array([call == "take" for call in marked.calls])
    parts = marking_map.panels(block.map.width_ft, block.map.height_ft)
    axes = words.line("east"), words.line("north")
    return words.frame(
        title=words.line("title", stand=marked.stand),
        heading=words.text("title", stand=marked.stand),
        subtitle=words.text("subtitle", visit=block.visit, acres=f"{block.acres:.1f}", day=on),
        headings={name: words.text(f"head_{name}") for name in ("sums", "list", "totals")},
        before=_picture(words, marked, "before", made.light_before, everything),
        after=_picture(words, marked, "after", made.light_after, leave),
        before_says=words.line("before_says"),
        after_says=words.line("after_says"),
        map_how=words.text("map_how"),
        maps=[
            {
                "head": words.text("head_map", tile=part.name),
                "says": words.line("map_says", tile=part.name),
                "picture": press.svg(marking_map.chart(block, leave, take, part, laid, axes)),
                "wide_pct": marking_map.wide_pct(part),
            }
            for part in parts
        ],
        sums=_sums(marked, words),
        list_how=words.text("list_how", ft=f"{laid.width_ft:.0f}"),
        list_heads=words.texts("list_heads"),
        rows=[
            [
                str(row.strip),
                row.stem.stem,
                by_code(row.stem.species).common_name,
                measures.digits(row.stem.dbh_in, "in", ".1f"),
                measures.digits(row.stem.east_ft, "ft"),
                measures.digits(row.stem.north_ft, "ft"),
                marking_map.panel_of(parts, row.stem.east_ft, row.stem.north_ft),
            ]
            for row in marked.walk("leave")
        ],
        totals_heads=words.texts("totals_heads"),
        totals=totals(marked, words),
        other_calls=words.text(
            "other_calls", inject=f"{marked.calls.count('inject'):,}", be=f"{marked.calls.count('let be'):,}"
        ),
        check=words.texts("check"),
        cautions=_cautions(marked.warnings, words),
    )


def _picture(words: Words, marked: desk.Marked, key: str, state: Light, standing: Any) -> str:
    title = words.line(key, pct=f"{state.mean_pct:.0f}")
    beside = light_map.ChartWords(title, words.line("east"), words.line("north"), words.line("legend"))
    return press.svg(light_map.chart(marked.block, state, standing, side_px=300, words=beside))


def _cautions(warnings: Sequence[str], words: Words) -> list[Text]:
    """The usual cautions, led by what is to be known of this stand."""
    return [*map(words.sentence, warnings), *map(words.caution, _CAUTIONS)]


def totals(marked: desk.Marked, words: Words) -> list[list[Text]]:
    """Trees and basal area that stay and that are cut, by species, and in all: the last row."""
    sums: dict[int, list[float]] = defaultdict(lambda: [0.0] * 4)
    for code, call, ba in zip(marked.block.spcd, marked.calls, marked.block.ba_ft2_ac, strict=True):
        if call in ("leave", "take"):
            at = 0 if call == "leave" else 2
            sums[int(code)][at] += 1
            sums[int(code)][at + 1] += float(ba)
    rows: list[tuple[Text, list[float]]] = sorted(
        (words.species(by_code(code).common_name), row) for code, row in sums.items()
    )
    whole = [sum(row[at] for _, row in rows) for at in range(4)]
    return [
        [name, f"{row[0]:.0f}", _ba(row[1]), f"{row[2]:.0f}", _ba(row[3])]
        for name, row in (*rows, (words.text("all"), whole))
    ]


def _sums(marked: desk.Marked, words: Words) -> list[Text]:
    made, wants = marked.marking, marked.wants
    light, later = made.light_after, marked.later
    search = {"moves": f"{made.moves:,}", "seed": made.seed}
    return [
        words.text(
            "leave",
            trees=int(made.leave.sum()),
            trees_ac=f"{made.leave_trees_ac:.0f}",
            ba=f"{made.residual_ba_ft2_ac:.0f}",
        ),
        words.text(
            "floor",
            mean=f"{light.mean_pct:.0f}",
            wide=f"{light.wide_pct:.0f}",
            narrow=f"{light.narrow_pct:.0f}",
            share=f"{light.share_in_band:.0%}",
            low=f"{wants.light_low_pct:g}",
            high=f"{wants.light_high_pct:g}",
        ),
        *([words.text("injected", mean=f"{made.light_not_injected.mean_pct:.0f}")] if "inject" in marked.calls else []),
        words.text(
            "later",
            years=marked.years,
            mean=f"{later.mean_pct:.0f}",
            low=f"{marked.later_range_pct[0]:.0f}",
            high=f"{marked.later_range_pct[1]:.0f}",
        ),
        words.text("sale", boards=f"{made.sale_bf_ac:,.0f}", rule=measures.log_rule_words(made.log_rule)),
        words.text("cover", share=f"{made.seed_cover_share:.0%}"),
        words.text("search", **search) if made.moves else words.text("as_laid"),
        *(words.framed("short", text) for text in made.shortfalls),
    ]


def rule_content(
    rule: RuleSheet, lights: Sequence[StateLight], on: dt.date, warnings: Sequence[str] = (), tongue: str = ENGLISH
) -> dict[str, Any]:  # fmt: skip
    """Everything the template of a rule prints."""
    words = language.words("marking_sheet", tongue)
    return words.frame(
        title=words.line("title_rule", stand=rule.stand),
        heading=words.text("title_rule", stand=rule.stand),
        subtitle=words.text("subtitle_rule", visit=rule.visit, day=on),
        headings={name: words.text(f"head_{name}") for name in ("leave", "take", "rule", "sums")},
        leave=[words.sentence(text) for text in rule.leave],
        take=[words.sentence(text) for text in rule.take],
        rule_heads=words.texts("rule_heads"),
        rows=[
            [
                words.species(row.species),
                measures.limits(row.dbh_class_in, "in."),
                *(
                    measures.digits(value, unit, ".1f")
                    for value, unit in zip(list(vars(row).values())[2:], ("trees/ac", "ft2/ac") * 2, strict=True)
                ),
            ]
            for row in rule.rows
        ],
        sums=[
            _figure("rule_left", rule.leave_ba_ft2_ac, words),
            _figure("rule_trees", rule.leave_trees_ac, words),
            _figure("rule_taken", rule.take_ba_ft2_ac, words),
            _figure("rule_light", rule.light_pct, words),
            *(_state(one, words) for one in lights[:2]),
            *([words.sentence(rule.light_pct.note)] if rule.light_pct.measured and rule.light_pct.note else []),
            *(words.framed("short", text) for text in rule.shortfalls),
        ],
        cautions=_cautions(warnings, words),
    )


def _state(one: StateLight, words: Words) -> Text:
    numbers = {"mean": f"{one.mean_pct:.0f}", "low": f"{one.low_pct:.0f}", "high": f"{one.high_pct:.0f}"}
    return words.text("state", state=one.state, **numbers)


def _figure(key: str, figure: Figure, words: Words) -> Text:
    """A figure of the rule with its span, in words of its own where it is not known."""
    if not figure.measured:
        return words.text(f"{key}_unknown")
    span = language.Part("no_span", {})
    if figure.low is not None and figure.high is not None:
        span = language.Part("span", {"low": _digits(figure.low, figure), "high": _digits(figure.high, figure)})
    return words.text(key, value=_digits(figure.number, figure), span=span)


def _digits(value: float, figure: Figure) -> str:
    return measures.digits(value, figure.unit)


def _ba(value_ft2_ac: float) -> str:
    return measures.digits(value_ft2_ac, "ft2/ac", ".1f")
