"""The tables of a part as the columns that every stand is looked at by, and which stands they cannot tell of.

A stand is plain where one whole cruise and one whole count decide, both of points that stand alone, by rings that say
their sizes.
What is not plain is told by its full advice instead; nothing is guessed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl

from overwood.ground import tables
from overwood.ground.records import TABLES
from overwood.ground.species import by_code
from overwood.ground.vocabulary import HEIGHT_CLASSES, OPENING_KINDS, REMOVAL_KINDS
from overwood.judgement.course import screening
from overwood.judgement.course.stage import STAGES
from overwood.judgement.evidence import acorns, layers
from overwood.judgement.evidence.looked import OAKS, OTHERS
from overwood.judgement.rules import Rules
from overwood.memory.exchange import parts
from overwood.science import overstory

_LOOKS = "ground/tables/looks.csv"
Frames = Mapping[str, Any]


@dataclass(frozen=True)
class Columns:
    """The listed stands of a part by name, their columns, and the stands that the columns cannot tell of."""

    stands: Any
    region: screening.Region
    not_plain: frozenset[str]


def columns_of(frames: Frames, rules: Rules, on: dt.date) -> Columns:
    """The columns of the tables of a part, as they stood on a day."""
    return _Maker(frames, rules, on).columns()


def _empty(table: str) -> Any:
    kinds: dict[str, Any] = {
        "number": pl.Float64,
        "integer": pl.Int64,
        "species": pl.Int64,
        "date": pl.Date,
        "boolean": pl.Boolean,
    }
    return pl.DataFrame(
        schema={name: kinds.get(column.kind, pl.String) for name, column in TABLES[table].columns.items()}
    )


class _Maker:
    """What is worked out on the way from the tables to the columns."""

    def __init__(self, frames: Frames, rules: Rules, on: dt.date) -> None:
        self.found, self.rules, self.on = frames, rules, on
        self.stands = self.table("stands").filter(pl.col("merged_into") == "").sort("stand").with_row_index("s")
        self.n = self.stands.height
        known = self.table("visits").filter(pl.col("visited_on") <= on)
        self.all_visits, self.visits = known, known.join(self.stands.select("stand", "s"), on="stand", how="inner")
        self.sample = self.table("points").filter(pl.col("in_stand").fill_null(True))
        self.strange: list[Any] = []

    def table(self, name: str) -> Any:
        return self.found[name] if name in self.found else _empty(name)

    def columns(self) -> Columns:
        cruises, counts = self._deciding("cruise"), self._deciding("reproduction")
        points, plots = self._points(cruises), self._points(counts, fenced=False)
        rings, since = self._rings(cruises), self._operations(cruises)
        floor_ring = counts.join(self.table("rings").filter(pl.col("layer") == "reproduction"), on="visit", how="inner")
        self._look_for_strange_ones(cruises, floor_ring, points, plots)
        crop = self._acorns()
        region = screening.Region(
            rings=rings, point_stand=_codes(points, "s"), trees=self._trees(points), plot_stand=_codes(plots, "s"),
            floor=self._floor(plots),
            plot_ac=self._by_stand(floor_ring, "plot_area_ac"), floor_low_ft=self._by_stand(floor_ring,
                "low_height_ft", blank=1.0),
            floor_high_ft=self._by_stand(floor_ring, "high_height_ft", blank=np.inf), cruise_yr=self._years(cruises),
            count_yr=self._years(counts), age_yr=self._ages(), site_index_ft=self._site_indexes(), **crop, **since,
        )  # fmt: skip
        strange = (
            pl.concat([each.select("stand") for each in self.strange])["stand"].unique().to_list()
            if self.strange
            else []
        )
        return Columns(self.stands, region, frozenset(strange))

    def _deciding(self, kind: str) -> Any:
        """The visit that decides: the newest with a point in its sample, where it is as complete as any before; else
        the stand is strange."""
        seen = self.sample.filter(~pl.col("fenced").fill_null(False)).group_by("visit").len("looks")
        lookers = (
            self.visits.filter(pl.col("kind") == kind)
            .join(seen, on="visit", how="inner")
            .sort("s", "visited_on", "visit")
        )
        last = lookers.group_by("s", "stand", maintain_order=True).agg(
            pl.col("visit", "visited_on", "looks").last(), pl.col("looks").max().alias("most")
        )
        self.strange.append(
            last.filter(pl.col("looks") < tables.constants(_LOOKS)["complete_look_share"] * pl.col("most"))
        )
        return last

    def _points(self, visits: Any, *, fenced: bool | None = None) -> Any:
        kept = self.sample if fenced is None else self.sample.filter(pl.col("fenced").fill_null(False) == fenced)
        return kept.join(
            visits.select("visit", "s", "stand"), on="visit", how="inner", maintain_order="left"
        ).with_row_index("p")

    def _look_for_strange_ones(self, cruises: Any, floor_ring: Any, points: Any, plots: Any) -> None:
        """Stands whose design the columns do not tell of."""
        rings = self.table("rings")
        layers = rings.filter(pl.col("layer") != "reproduction").group_by("visit").agg(pl.col("layer").unique())
        alone = layers.filter((pl.col("layer").list.len() == 1) & (pl.col("layer").list.first() == "midstory"))
        maps = self.table("stem_maps")
        own = self.visits.filter(pl.col("kind") == "cruise").join(alone, on="visit", how="semi")
        self.strange += [own, self.visits.join(maps, on="visit", how="semi")]
        grouped = (pl.col("cluster") != "") | (pl.col("stratum") != "")
        self.strange += [plots.filter(grouped)]
        odd = (
            grouped
            | pl.any_horizontal(pl.col("baf_ft2_ac", "plot_area_ac").is_not_null())
            | pl.col("fenced").fill_null(False)
        )
        self.strange += [points.filter(odd)]
        every = pl.col("looked_for").map_elements(_looked_for_all, return_dtype=pl.Boolean)
        self.strange += [floor_ring.filter(~every)]
        mine = cruises.join(rings.filter(pl.col("layer") != "reproduction"), on="visit", how="inner")
        unsaid = (pl.col("design") == "strip") | pl.col("low_dbh_in").is_null() | ~every
        unsaid = unsaid | (
            (pl.col("layer") == "midstory") & (pl.col("high_dbh_in").is_null() | (pl.col("design") != "fixed"))
        )
        overlaps = mine.group_by("s", "stand").agg(
            pl.col("high_dbh_in").filter(pl.col("layer") == "midstory").max().alias("to"),
            pl.col("low_dbh_in").filter(pl.col("layer") == "overstory").min().alias("from"),
        )
        self.strange += [
            mine.filter(unsaid),
            overlaps.filter(pl.col("from").is_null() | (pl.col("to") > pl.col("from"))),
        ]
        self.strange += [cruises.join(mine, on="visit", how="anti")]

    def _by_stand(self, frame: Any, name: str, blank: float = np.nan) -> Any:
        """A column of a frame with a row a stand, NaN for stands without one and ``blank`` for a blank cell."""
        values = np.full(self.n, np.nan)
        values[_codes(frame, "s")] = frame[name].cast(float).fill_null(blank).to_numpy()
        return values

    def _years(self, visits: Any) -> Any:
        days = visits.select("s", ((pl.lit(self.on) - pl.col("visited_on")).dt.total_days() / 365.25).alias("yr"))
        return self._by_stand(days, "yr")

    def _rings(self, cruises: Any) -> screening.Rings:
        mine = cruises.select("visit", "s").join(self.table("rings"), on="visit", how="inner")
        canopy, below = (mine.filter(pl.col("layer") == layer) for layer in ("overstory", "midstory"))
        prism = canopy.filter(pl.col("design") == "prism")
        return screening.Rings(
            baf_ft2_ac=self._by_stand(prism, "baf_ft2_ac"),
            plot_ac=self._by_stand(canopy.filter(pl.col("design") == "fixed"), "plot_area_ac"),
            low_dbh_in=self._by_stand(canopy, "low_dbh_in"),
            high_dbh_in=self._by_stand(canopy, "high_dbh_in", blank=np.inf),
            midstory_ac=self._by_stand(below, "plot_area_ac"),
            midstory_low_in=self._by_stand(below, "low_dbh_in"),
            midstory_high_in=self._by_stand(below, "high_dbh_in"),
        )

    def _tallied(self, name: str, points: Any) -> Any:
        """The rows of a tally at some points, ``p`` being the place among them."""
        frame = self.table(name)
        if parts.AT not in frame.columns:
            return frame.with_columns(pl.lit(0, dtype=pl.Int64).alias("p")).clear()
        place = np.full(self.table("points").height + 1, -1, dtype=np.int64)
        place[_codes(points, parts.ROW)] = np.arange(points.height)
        return frame.with_columns(pl.Series("p", place[_codes(frame, parts.AT)])).filter(pl.col("p") >= 0)

    def _stands_of(self, rows: Any, points: Any) -> Any:
        return points[rows["p"].unique().to_list()]

    def _trees(self, points: Any) -> screening.Trees:
        mine = self._tallied("trees", points).filter(pl.col("status") != "dead")
        blank = pl.any_horizontal(pl.col("stems", "edge_count").is_null())
        self.strange.append(self._stands_of(mine.filter(blank), points))
        mine = mine.filter(~blank)
        of_class = mine["crown_class"]
        return screening.Trees(
            point=_codes(mine, "p"),
            species=_codes(mine, "species"),
            dbh_in=mine["dbh_in"].to_numpy(),
            lines=(mine["stems"] * mine["edge_count"]).cast(float).to_numpy(),
            is_overtopped=(of_class == "overtopped").to_numpy(),
            in_canopy=of_class.is_in(layers.UPPER).to_numpy(),
            dieback_pct=mine["dieback_pct"].fill_null(np.nan).to_numpy(),
        )

    def _floor(self, plots: Any) -> screening.Floor:
        lines = self._tallied("seedlings", plots)
        self.strange.append(self._stands_of(lines.filter(pl.col("stems").is_null()), plots))
        lines = lines.filter(pl.col("stems") > 0)
        classes = ("", *HEIGHT_CLASSES)
        of_class = lines["height_class"].cast(pl.Enum(classes)).to_physical().to_numpy()
        lows = np.array([HEIGHT_CLASSES.get(name, (0.0, 0.0))[0] for name in classes])
        tops = np.array([HEIGHT_CLASSES.get(name, (0.0, 0.0))[1] for name in classes])
        middles = np.where(tops > 20, self.rules.number("open_class_height_ft"), (lows + tops) / 2)
        measured = lines["height_ft"].fill_null(np.nan).to_numpy()
        return screening.Floor(
            plot=_codes(lines, "p"),
            species=_codes(lines, "species"),
            stems=lines["stems"].cast(float).to_numpy(),
            low_ft=np.where(np.isnan(measured), lows[of_class], measured),
            height_ft=np.where(np.isnan(measured), middles[of_class], measured),
            is_free=(lines["place"] == "free").to_numpy(),
            is_overtopped=(lines["place"] == "overtopped").to_numpy(),
        )

    def _operations(self, cruises: Any) -> dict[str, Any]:
        """Where each stand is on its course, and whether it was injected, and that after its midstory was looked at."""
        done = self.table("operations").filter((pl.col("state") == "done") & (pl.col("started_on") <= self.on))
        done = done.join(self.stands.select("stand", "s"), on="stand", how="inner")

        def has(kinds: tuple[str, ...]) -> Any:
            mask = np.zeros(self.n, dtype=bool)
            mask[_codes(done.filter(pl.col("kind").is_in(kinds)), "s")] = True
            return mask

        injected = has(("injection",))
        last = done.filter(pl.col("kind") == "injection").group_by("s").agg(pl.col("started_on").max())
        later = last.join(cruises.select("s", "visited_on"), on="s").filter(pl.col("started_on") > pl.col("visited_on"))
        since = np.zeros(self.n, dtype=bool)
        since[_codes(later, "s")] = True
        stages = [STAGES.index(name) for name in ("released", "opened", "midstory treated", "untreated")]
        stage = np.select([has(REMOVAL_KINDS), has(OPENING_KINDS), injected], stages[:3], stages[3])
        return {"stage": stage.astype(np.int64), "injected": injected, "injected_since": since}

    def _ages(self) -> Any:
        """Age of the main canopy [yr], from cores or the year of origin."""
        born = self.stands["birth_year"].cast(float).fill_null(np.nan).to_numpy()
        born = np.where(born > 0, born, np.nan)
        cores = self.table("site_trees").join(self.visits.select("visit", "s", "visited_on"), on="visit", how="inner")
        grown = pl.col("age_yr") + (pl.lit(self.on) - pl.col("visited_on")).dt.total_days() / 365.25
        cored = self._by_stand(cores.group_by("s").agg(grown.mean().alias("age")), "age")
        return np.where(np.isnan(cored), self.on.year - born, cored)

    def _site_indexes(self) -> Any:
        """Oak site index [ft at 50 years], from cored oaks with heights or as written for the stand."""
        noted = self.stands["site_index_ft"].cast(float).fill_null(np.nan).to_numpy()
        cores = self.table("site_trees").join(self.visits.select("visit", "s"), on="visit", how="inner")
        cores = cores.filter(pl.col("height_ft") > 0).select("s", "species", "age_yr", "height_ft")
        oaks = [row for row in cores.iter_rows() if by_code(row[1]).is_oak]
        sums, count = np.zeros(self.n), np.zeros(self.n)
        for s, species, age_yr, height_ft in oaks:
            sums[s] += float(overstory.site_index_ft(species, age_yr, height_ft))
            count[s] += 1
        with np.errstate(invalid="ignore"):
            return np.where(count > 0, sums / count, np.where(noted > 0, noted, np.nan))

    def _acorns(self) -> dict[str, Any]:
        """Oaks that bear and oaks looked at, by group and stand; where a look out of season or elsewhere speaks."""
        year, (first, final) = acorns.crop_year(self.on), self.rules["window_acorn"].window
        day = pl.col("visited_on")
        mine = (
            (pl.col("kind") == "acorn")
            & (day.dt.year() == year)
            & (day.map_batches(_crop_years, return_dtype=pl.Int64) == year)
        )
        stands = self.table("stands").select("stand", "property")
        visits = self.all_visits.filter(mine).join(stands, on="stand", how="inner")
        visits = visits.with_columns(day.dt.strftime("%m-%d").is_between(pl.lit(first), pl.lit(final)).alias("timely"))
        trees = self.table("acorn_trees").join(
            visits.select("visit", "stand", "property", "timely"), on="visit", how="inner"
        )
        self.strange.append(self.stands.join(trees.filter(pl.col("cluster") != ""), on="property", how="semi"))
        bears = (
            pl.when(pl.col("bearing").is_null()).then(pl.col("acorns").fill_null(0) > 0).otherwise(pl.col("bearing"))
        )
        groups = pl.col("species").replace_strict(
            {code: by_code(code).oak_group for code in trees["species"].unique().to_list()}, default=""
        )
        seen = trees.with_columns(
            bears.cast(float).alias("bears"), groups.alias("group") if trees.height else pl.lit("").alias("group")
        )
        timely = seen.filter(pl.col("timely"))
        sums = [
            self._crop(each, key)
            for each, key in ((timely, "stand"), (timely, "property"), (seen.filter(~pl.col("timely")), "stand"))
        ]
        spoken = [each[2] > 0 for each in sums]
        bearing, looked = (np.select(spoken, [each[part] for each in sums], 0.0) for part in (0, 1))
        late, elsewhere = ~spoken[0] & ~spoken[1] & spoken[2], ~spoken[0] & spoken[1]
        return {"bearing": bearing, "looked": looked, "crop_late": late, "crop_elsewhere": elsewhere}

    def _crop(self, seen: Any, key: str) -> tuple[Any, Any, Any]:
        """Bearing and looked at by group (two rows), and all trees looked at, for each stand by its own name or its
        property's."""
        sums = [pl.col("bears").filter(pl.col("group") == name).sum().alias(f"bears {name}") for name in acorns.GROUPS]
        sums += [(pl.col("group") == name).sum().cast(pl.Float64).alias(f"looked {name}") for name in acorns.GROUPS]
        by_key = self.stands.select("s", key).join(
            seen.group_by(key).agg(*sums, pl.len().alias("all")), on=key, how="left", maintain_order="left"
        )
        by_name = {
            name: by_key[name].cast(float).fill_null(0.0).to_numpy()
            for name in by_key.columns
            if name not in ("s", key)
        }
        bears, looked = (
            np.array([by_name[f"{what} {name}"] for name in acorns.GROUPS]) for what in ("bears", "looked")
        )
        return bears, looked, by_name["all"]


def _crop_years(days: Any) -> Any:
    return pl.Series([acorns.crop_year(day) for day in days.to_list()], dtype=pl.Int64)


def _looked_for_all(words: str) -> bool:
    """Whether a ring looked for oaks and for other trees; it did where it does not say."""
    named = {word.strip().lower() for word in words.split(";") if word.strip()}
    return not named or {OAKS, OTHERS} <= named


def _codes(frame: Any, name: str) -> Any:
    return frame[name].cast(int).to_numpy()
