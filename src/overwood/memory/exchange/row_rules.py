"""Checks that need several cells of a row: each a condition, the column to show, and the words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from overwood.ground.vocabulary import HEIGHT_CLASSES, MAP_SIDES

# Plans reach no further than the age of an old oak stand: our own choice, against slips of the hand.
_PLANNED_YEARS = 300


@dataclass(frozen=True)
class RowRule:
    """A check that needs several cells of a row."""

    wrong: Any
    column: str
    what: str
    expected: str
    severity: str = "error"
    # A column without whose value nothing is wrong, where looking for that costs much.
    needs: str = ""


def rules_of(table: str, today: dt.date) -> list[RowRule]:
    """What the rows of a table must hold together."""
    import polars as pl

    return _RULES[table](pl.col, today) if table in _RULES else []


def _rings(c: Any, today: dt.date) -> list[RowRule]:
    return [
        RowRule(
            (c("design") == "prism") & c("baf_ft2_ac").is_null(),
            "baf_ft2_ac",
            "A prism ring has no count factor.",
            "the basal area factor, such as 10",
        ),
        RowRule(
            (c("design") == "fixed") & c("plot_area_ac").is_null(),
            "plot_area_ac",
            "A fixed plot has no area.",
            "its area in acres; a radius r ft gives 3.1416 r r / 43560",
        ),
        RowRule(
            (c("design") == "strip") & c("strip_width_ft").is_null(),
            "strip_width_ft",
            "A strip has no width.",
            "its full width in feet",
        ),
        RowRule(
            (c("design") == "prism") & (c("layer") == "reproduction"),
            "design",
            "Seedlings cannot be tallied with a prism.",
            "a fixed plot",
        ),
        RowRule(
            c("low_dbh_in") >= c("high_dbh_in"),
            "high_dbh_in",
            "The ring ends before it begins.",
            "a larger dbh than low_dbh_in",
        ),
    ]


def _properties(c: Any, today: dt.date) -> list[RowRule]:
    return [_no_slash("property")]


def _stands(c: Any, today: dt.date) -> list[RowRule]:
    return [
        _no_slash("stand"),
        RowRule(
            c("merged_into") == c("stand"), "merged_into", "A stand is merged into itself.", "another stand, or blank"
        ),
    ]


def _visits(c: Any, today: dt.date) -> list[RowRule]:
    import polars as pl

    return [
        RowRule(
            c("visited_on") > pl.lit(today),
            "visited_on",
            "The visit lies in the future.",
            "a day up to today",
            "warning",
        ),
        _not_far_ahead("visited_on", today),
    ]


def _sightings(c: Any, today: dt.date) -> list[RowRule]:
    import polars as pl

    wilt = (
        pl.concat_str(c("subject"), c("note"), separator=" ", ignore_nulls=True)
        .str.to_lowercase()
        .str.contains("oak wilt", literal=True)
    )
    return [
        _not_far_ahead("seen_on", today),
        RowRule(
            wilt & (c("kind") != "oak wilt"),
            "kind",
            "The words name oak wilt, but the kind does not.",
            "oak wilt, where it is known: only then is its season kept from wounds",
            "warning",
        ),
    ]


def _points(c: Any, today: dt.date) -> list[RowRule]:
    both = c("baf_ft2_ac").is_not_null() & c("plot_area_ac").is_not_null()
    return [
        RowRule(both, "plot_area_ac", "A point has both a count factor and a plot area.", "one of the two, or neither")
    ]


def _trees(c: Any, today: dt.date) -> list[RowRule]:
    return [
        RowRule(
            c("dbh_in") > 48, "dbh_in", "A very thick tree.", "mostly under 48 in; check for centimetres", "warning"
        ),
        RowRule(c("height_ft") > 150, "height_ft", "A very tall tree.", "mostly under 150 ft", "warning"),
    ]


def _acorn_trees(c: Any, today: dt.date) -> list[RowRule]:
    return [
        RowRule(
            c("bearing").is_null() & c("acorns").is_null(),
            "bearing",
            "Neither bearing nor a count is given.",
            "yes or no, or a count",
        ),
        RowRule(
            ~c("bearing") & (c("acorns") > 0),
            "acorns",
            "The tree is said not to bear, yet acorns were counted.",
            "bearing yes, or no count",
        ),
        RowRule(
            (c("method") == "limb") & c("acorns").is_not_null() & c("limbs").is_null(),
            "limbs",
            "A limb count without the number of branch ends.",
            "how many 24-in. ends were counted",
        ),
    ]


def _operations(c: Any, today: dt.date) -> list[RowRule]:
    return [
        *_work_days(today),
        RowRule(
            c("ended_on") < c("started_on"),
            "ended_on",
            "The work ends before it starts.",
            "a day on or after started_on",
        ),
        RowRule(
            c("ba_after_ft2_ac") > c("ba_before_ft2_ac"),
            "ba_after_ft2_ac",
            "More basal area after the cut than before.",
            "at most ba_before_ft2_ac",
        ),
    ]


def _crowns(c: Any, today: dt.date) -> list[RowRule]:
    import polars as pl

    radii = [c(f"radius_{side}_ft") for side in ("north", "east", "south", "west")]
    return [
        RowRule(pl.sum_horizontal(radii) <= 0, "radius_north_ft", "All four radii are zero.", "at least one above 0")
    ]


def _stems(c: Any, today: dt.date) -> list[RowRule]:
    return [
        RowRule(
            c("crown_base_ft") >= c("height_ft"),
            "crown_base_ft",
            "The crown begins above the tree's top.",
            "less than height_ft",
        ),
    ]


def _fuels(c: Any, today: dt.date) -> list[RowRule]:
    return [
        RowRule(
            c("leave_trees_with_debris") > c("leave_trees"),
            "leave_trees_with_debris",
            "More leave trees with debris than were looked at.",
            "at most leave_trees",
        )
    ]


def _decisions(c: Any, today: dt.date) -> list[RowRule]:
    return [
        _not_far_ahead("decided_on", today),
        RowRule(
            c("overridden") & (c("reason") == ""),
            "reason",
            "Advice was overridden without a reason.",
            "the reason in words",
        ),
    ]


def _no_slash(column: str) -> RowRule:
    """A name is part of addresses, where a slash would end it."""
    import polars as pl

    return RowRule(
        pl.col(column).str.contains(r"[/\\]|^\.+$"),
        column,
        "The name holds a slash, which no address can carry.",
        "a hyphen in its place",
    )


def _work_days(today: dt.date) -> list[RowRule]:
    """Work that is done lies behind; work that is planned lies within a life of trees."""
    import polars as pl

    c, done = pl.col, pl.col("state") == "done"
    ahead, last = pl.lit(today + dt.timedelta(days=366)), pl.lit(today + dt.timedelta(days=366 * _PLANNED_YEARS))
    return [
        RowRule(
            done & (c("started_on") > ahead),
            "started_on",
            "Work that is done lies more than a year ahead.",
            "a day that has been",
        ),
        RowRule(
            done & (c("started_on") > pl.lit(today)),
            "started_on",
            "Work that is done lies in the future.",
            "a day up to today",
            "warning",
        ),
        RowRule(
            c("started_on") > last, "started_on", "The work lies too far ahead.", f"a day within {_PLANNED_YEARS} years"
        ),
    ]


def _not_far_ahead(column: str, today: dt.date) -> RowRule:
    """A day more than a year ahead is a slip of the hand: what is due would be reckoned from it."""
    import polars as pl

    return RowRule(
        pl.col(column) > pl.lit(today + dt.timedelta(days=366)),
        column,
        "The day lies more than a year ahead.",
        "a day that has been",
    )


def _map_rules(c: Any, today: dt.date) -> list[RowRule]:
    import polars as pl

    side = {name: pl.when(c(f"edge_{name}") == "").then(c("edge")).otherwise(c(f"edge_{name}")) for name in MAP_SIDES}
    unpaired = [
        (side[one] == "torus") != (side[other] == "torus") for one, other in (("north", "south"), ("east", "west"))
    ]
    return [
        RowRule(
            unpaired[0] | unpaired[1],
            "edge",
            "A side is a torus and the one across from it is not.",
            "torus on both of two opposite sides, or on neither",
        ),
        RowRule(
            pl.any_horizontal([name == "buffer" for name in side.values()]) & c("buffer_ft").is_null(),
            "buffer_ft",
            "A side is a buffer of no width.",
            "the width of the strip in feet",
        ),
        RowRule(
            2 * c("buffer_ft") >= pl.min_horizontal("width_ft", "height_ft"),
            "buffer_ft",
            "The buffer leaves no ground inside.",
            "less than half the block's shorter side",
        ),
    ]


def _seedling_rules(c: Any, today: dt.date) -> list[RowRule]:
    low = _limit(0)
    high = _limit(1)
    counted = c("stems") > 0
    return [
        RowRule(
            counted & (c("height_class") == "") & c("height_ft").is_null(),
            "height_class",
            "A stem has neither a height class nor a height.",
            "one of the two",
        ),
        RowRule(
            (c("height_ft") < low) | (c("height_ft") >= high),
            "height_ft",
            "The height does not lie in the height class.",
            "a height inside the class (a stem of 3 ft belongs to 3-4.5)",
            needs="height_ft",
        ),
        RowRule(
            c("browsed") > c("stems").fill_null(1),
            "browsed",
            "More stems browsed than counted.",
            "at most the stems of the line; blank stems are one",
        ),
    ]


def _limit(side: int) -> Any:
    import polars as pl

    limits = {name: pair[side] for name, pair in HEIGHT_CLASSES.items()}
    return pl.col("height_class").replace_strict(limits, default=None, return_dtype=pl.Float64)


_RULES: dict[str, Callable[[Any, dt.date], list[RowRule]]] = {
    "rings": _rings,
    "properties": _properties,
    "stands": _stands,
    "visits": _visits,
    "sightings": _sightings,
    "points": _points,
    "trees": _trees,
    "seedlings": _seedling_rules,
    "acorn_trees": _acorn_trees,
    "operations": _operations,
    "crowns": _crowns,
    "stems": _stems,
    "fuels": _fuels,
    "stem_maps": _map_rules,
    "decisions": _decisions,
}
