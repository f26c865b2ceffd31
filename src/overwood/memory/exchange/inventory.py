"""The national forest inventory's public tables as parts: each forest condition of a plot's newest visit is a stand.

Names of columns and codes are those of the published user guide, from memory (``tables/inventory_codes.csv``). Where
its plots lie is blurred on purpose in the public tables, so a place is good for a map of the state and for no slope.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import polars as pl

from overwood.ground import species, tables
from overwood.ground.errors import BadRecords, NotFound
from overwood.ground.records import TABLES
from overwood.ground.units import FT2_PER_ACRE
from overwood.memory.exchange.parts import ENDING

_CONSTANTS, _CODES = "memory/exchange/tables/inventory.csv", "memory/exchange/tables/inventory_codes.csv"
# Columns that must be there, and those that are read where they are.
_COLUMNS = {
    "PLOT": ("CN STATECD UNITCD COUNTYCD PLOT INVYR", "MEASYEAR MEASMON MEASDAY PLOT_STATUS_CD DESIGNCD LAT LON"),
    "COND": (
        "PLT_CN CONDID COND_STATUS_CD CONDPROP_UNADJ",
        "SUBPPROP_UNADJ MICRPROP_UNADJ STDAGE RESERVCD SISP SICOND SIBASE TRTCD1 TRTYR1 TRTCD2 TRTYR2 TRTCD3 TRTYR3",
    ),
    "TREE": ("PLT_CN SUBP TREE CONDID STATUSCD SPCD DIA TPA_UNADJ", "HT CCLCD CR STANDING_DEAD_CD"),
    "SEEDLING": ("PLT_CN SUBP CONDID SPCD TPA_UNADJ", "TREECOUNT TREECOUNT_CALC"),
}
_NUMBERS = "LAT LON CONDPROP_UNADJ SUBPPROP_UNADJ MICRPROP_UNADJ SICOND DIA HT CR TPA_UNADJ TREECOUNT TREECOUNT_CALC"
_NAMES = ("CN", "PLT_CN")
# A share of a plot, or an expansion, is the same to so much: rounding of the public tables.
_SAME = 0.002
_WHOLE_PLOT = "plot"
Frames = dict[str, Any]


@dataclass(frozen=True)
class Inventory:
    """What was read: the tables of the contract with the part of each row, the plots as a sample, and what was left
    out."""

    frames: Frames
    sample: Any
    plots: int
    left_out: Mapping[str, int]


def read(folder: Path, on: dt.date) -> Inventory:
    """The newest visit up to a day of each plot of a folder's tables (PLOT.csv, COND.csv, TREE.csv, SEEDLING.csv, or
    with a state's letters before, such as TN_PLOT.csv).

    Raises NotFound when a table is not there; BadRecords when it lacks a column or a cell is no number.
    """
    left_out: dict[str, int] = {}
    plots = _newest(_table(folder, "PLOT"), on, left_out)
    trees = _table(folder, "TREE", plots)
    plots = _of_the_design(plots, trees, left_out)
    conditions = _conditions(_table(folder, "COND", plots), plots)
    stands = conditions.filter(pl.col("is_stand"))
    if stands.height > 1 and not trees.height:
        # Not one tree in all the forest is a table that broke off, and would be told as bare stands.
        raise BadRecords("TREE holds no tree of these plots.", remedy="Fetch the public table again.")
    seedlings = _seedlings(_table(folder, "SEEDLING", plots), stands)
    frames = {
        "properties": _properties(stands),
        "stands": _stands(stands, seedlings),
        "visits": _visits(stands),
        "rings": _rings(stands),
        "points": _points(stands),
        "trees": _trees(trees, stands, left_out),
    }
    sample = conditions.select(
        "county",
        pl.col("property").alias("plot"),
        pl.when("is_stand").then("stand").otherwise(pl.lit("")).alias("stand"),
        pl.col("CONDPROP_UNADJ").alias("share"),
    )
    return Inventory(frames, sample.sort("county", "plot", "stand", "share"), plots.height, left_out)


def write(forest: Inventory, folder: Path) -> int:
    """Write the tables as parts, one a county; returns how many."""
    counties = forest.frames["stands"]["county"].unique().sort().to_list()
    for county in counties:
        part = folder / county
        part.mkdir(parents=True, exist_ok=True)
        for name, frame in forest.frames.items():
            frame.filter(pl.col("county") == county).drop("county").write_parquet(part / f"{name}{ENDING}")
    return len(counties)


def _known(name: str) -> float:
    return tables.constants(_CONSTANTS)[name]


def _area_ac(radius_ft: float) -> float:
    return math.pi * radius_ft**2 / FT2_PER_ACRE


def _table(folder: Path, name: str, plots: Any = None) -> Any:
    """A public table with its columns typed, of all plots or of some."""
    pattern = re.compile(rf"(?:[A-Z]{{2}}_)?{name}\.csv", re.IGNORECASE)
    files = sorted(file for file in folder.glob("*") if pattern.fullmatch(file.name))
    if not files:
        raise NotFound(f"{folder} holds no {name}.csv.", remedy="Unpack the public tables of the state there.")
    try:
        return pl.concat([_typed(file, name, plots) for file in files])
    except pl.exceptions.PolarsError as fault:
        raise BadRecords(f"{name} cannot be read: {fault}.", remedy="Fetch the public table again.") from fault


def _typed(file: Path, name: str, plots: Any) -> Any:
    needed, more = (words.split() for words in _COLUMNS[name])
    rows = pl.scan_csv(file, infer_schema=False)
    named = {column.upper(): column for column in rows.collect_schema().names()}
    lacking = [column for column in needed if column not in named]
    if lacking:
        raise BadRecords(f"{file.name} has no column {lacking[0]}.", remedy=f"A public table {name} has one.")
    table = rows.select(
        (pl.col(named[column]).str.strip_chars() if column in named else pl.lit(None, pl.String)).alias(column)
        for column in (*needed, *more)
    )
    if plots is not None:
        table = table.join(plots.lazy().select(pl.col("CN").alias("PLT_CN")), on="PLT_CN", how="semi")
    return table.with_columns(_typed_column(column) for column in (*needed, *more) if column not in _NAMES).collect()


def _typed_column(name: str) -> Any:
    cell = pl.when(pl.col(name) == "").then(None).otherwise(pl.col(name)).cast(pl.Float64)
    return (cell if name in _NUMBERS.split() else cell.cast(pl.Int64)).alias(name)


def _newest(plots: Any, on: dt.date, left_out: dict[str, int]) -> Any:
    """The newest sampled visit of each plot up to a day, with the plot's name, its county and the day."""
    year = pl.col("MEASYEAR").fill_null(pl.col("INVYR"))
    month, day = pl.col("MEASMON").fill_null(7), pl.col("MEASDAY").fill_null(1)
    dated = plots.with_columns(
        pl.format("{}-{}-{}", year, month, day).str.to_date("%Y-%m-%d", strict=False).alias("visited_on"),
        pl.format("{}-{}", _digits("STATECD", 2), _digits("COUNTYCD", 3)).alias("county"),
    ).with_columns(pl.format("{}-{}-{}", "county", "UNITCD", "PLOT").alias("property"))
    fits = {
        "visits without a day, or after the day of the question": pl.col("visited_on") <= on,
        "plots that were not sampled": pl.col("PLOT_STATUS_CD").fill_null(1) != int(_known("plot_not_sampled")),
        "plots of another design": pl.col("DESIGNCD").fill_null(1) == int(_known("design")),
    }
    for words, fit in fits.items():
        kept = dated.filter(fit)
        left_out[words], dated = dated.height - kept.height, kept
    newest = dated.sort("property", "visited_on", "CN").group_by("property", maintain_order=True).last()
    left_out["earlier visits of the same plots"] = dated.height - newest.height
    return newest


def _digits(column: str, size: int) -> Any:
    return pl.col(column).cast(pl.String).str.zfill(size)


def _of_the_design(plots: Any, trees: Any, left_out: dict[str, int]) -> Any:
    """Plots whose trees stand for as many an acre as those of the national design do."""
    is_tree = pl.col("DIA") >= _known("tree_from_in")
    areas = [_known("subplots") * _area_ac(_known(name)) for name in ("subplot_radius_ft", "microplot_radius_ft")]
    expected = pl.when(is_tree).then(1 / areas[0]).otherwise(1 / areas[1])
    other = trees.filter((pl.col("STATUSCD") == 1) & ((pl.col("TPA_UNADJ") / expected - 1).abs() > _SAME))
    kept = plots.join(other.select(pl.col("PLT_CN").alias("CN")), on="CN", how="anti", maintain_order="left")
    left_out["plots of another design"] += plots.height - kept.height
    return kept


def _conditions(conditions: Any, plots: Any) -> Any:
    """Conditions that were sampled, with the name of their plot and of the stand that a forest one is."""
    known = conditions.filter(pl.col("COND_STATUS_CD") != int(_known("not_sampled"))).join(
        plots.select(pl.col("CN").alias("PLT_CN"), "property", "county", "visited_on", "LAT", "LON"), on="PLT_CN"
    )
    share = pl.col("SUBPPROP_UNADJ").fill_null(pl.col("CONDPROP_UNADJ"))
    known = known.with_columns(
        pl.format("{}-{}", "property", "CONDID").alias("stand"),
        share.alias("share"),
        pl.col("MICRPROP_UNADJ").fill_null(share).alias("small_share"),
        ((pl.col("COND_STATUS_CD") == int(_known("forest"))) & (share > 0)).alias("is_stand"),
    )
    return known.with_columns(
        pl.format("{} cruise", "stand").alias("visit"),
        ((pl.col("share") > 1 - _SAME) & (pl.col("small_share") > 1 - _SAME)).alias("is_whole"),
    ).sort("stand")


def _properties(stands: Any) -> Any:
    note = "Plot of the national inventory; its place is blurred in the public tables."
    firsts = stands.group_by("county", "property", maintain_order=True).agg(pl.col("LAT", "LON").first())
    return firsts.rename({"LAT": "latitude_deg", "LON": "longitude_deg"}).with_columns(pl.lit(note).alias("note"))


def _stands(stands: Any, seedlings: Any) -> Any:
    """Site index where it is of an oak at 50 years; no slope, aspect or acres, for a plot shows none of its stand."""
    oaks = [code for code, one in species.all_species().items() if one.is_oak]
    is_oak_site = pl.col("SISP").is_in(oaks) & (pl.col("SIBASE") == int(_known("site_base_yr")))
    age = pl.col("STDAGE")
    born = pl.when(age.is_between(1, int(_known("oldest_yr")))).then(pl.col("visited_on").dt.year() - age)
    return stands.join(seedlings, on="stand", how="left", maintain_order="left").select(
        "county",
        "stand",
        "property",
        pl.when(is_oak_site).then("SICOND").alias("site_index_ft"),
        pl.when(is_oak_site).then("SISP").alias("site_index_species"),
        born.alias("birth_year"),
        (pl.col("RESERVCD") == 1).alias("reserve"),
        pl.concat_str([_cuttings(), pl.col("floor")], separator=" ", ignore_nulls=True).alias("note"),
    )


def _cuttings() -> Any:
    years = [
        pl.when(pl.col(f"TRTCD{at}") == int(_known("cutting"))).then(
            pl.col(f"TRTYR{at}").cast(pl.String).fill_null("?")
        )
        for at in (1, 2, 3)
    ]
    said = pl.concat_str(years, separator=", ", ignore_nulls=True)
    return pl.when(said != "").then(pl.format("Trees were cut in {}; which kind of cut is not said.", said))


def _seedlings(rows: Any, stands: Any) -> Any:
    """What the microplots say of seedlings, in words: they are counted without a height, so no count of heights is
    made of them. A table without one seedling says nothing: it broke off, or was left out of the download."""
    oaks = [code for code, one in species.all_species().items() if one.is_oak]
    held = rows.join(stands.select("PLT_CN", "CONDID", "stand", "small_share"), on=["PLT_CN", "CONDID"])
    an_acre = pl.col("TREECOUNT").fill_null(pl.col("TREECOUNT_CALC")) * pl.col("TPA_UNADJ") / pl.col("small_share")
    is_oak = pl.col("SPCD").is_in(oaks)
    sums = held.group_by("stand").agg(
        an_acre.filter(is_oak).sum().alias("oaks"), an_acre.filter(~is_oak).sum().alias("others")
    )
    words = "Seedlings an acre, counted without heights: {} of oaks, {} of others."
    known = (
        stands.filter((pl.col("small_share") > 0) & (rows.height > 0))
        .select("stand")
        .join(sums, on="stand", how="left")
    )
    rounded = (pl.col(name).fill_null(0).round().cast(pl.Int64) for name in ("oaks", "others"))
    return known.select("stand", pl.format(words, *rounded).alias("floor"))


def _visits(stands: Any) -> Any:
    return stands.select("county", "visit", "stand", pl.lit("cruise").alias("kind"), "visited_on")


def _rings(stands: Any) -> Any:
    """Trees on the subplots, saplings on the microplots; of a plot that lies in several conditions all of them are one
    plot, of the condition's share."""
    low, middle = _known("sapling_from_in"), _known("tree_from_in")
    kinds = (
        ("overstory", "subplot_radius_ft", "share", middle, None),
        ("midstory", "microplot_radius_ft", "small_share", low, middle),
    )
    rings = []
    for layer, radius, share, from_in, to_in in kinds:
        area = _area_ac(_known(radius))
        whole = pl.when("is_whole").then(area).otherwise(area * _known("subplots") * pl.col(share))
        rings.append(
            stands.filter(pl.col(share) > 0).select(
                "county",
                "visit",
                pl.lit(layer).alias("layer"),
                pl.lit("fixed").alias("design"),
                whole.alias("plot_area_ac"),
                pl.lit(from_in, pl.Float64).alias("low_dbh_in"),
                pl.lit(to_in, pl.Float64).alias("high_dbh_in"),
            )
        )
    return pl.concat(rings)


def _points(stands: Any) -> Any:
    names = [str(at + 1) for at in range(int(_known("subplots")))]
    whole = pl.when("is_whole").then(pl.lit(names)).otherwise(pl.lit([_WHOLE_PLOT]))
    return stands.select("county", "visit", whole.alias("point")).explode("point")


def _trees(trees: Any, stands: Any, left_out: dict[str, int]) -> Any:
    held = trees.join(stands.select("PLT_CN", "CONDID", "county", "visit", "is_whole"), on=["PLT_CN", "CONDID"])
    held = held.with_columns(_word("STATUSCD").alias("status"), _word("CCLCD").alias("crown_class"))
    fallen = (pl.col("status") == "dead") & (pl.col("STANDING_DEAD_CD").fill_null(1) != 1)
    here = held.filter((pl.col("status") != "") & ~fallen)
    kept = here.filter(pl.col("DIA").is_not_null())
    left_out["trees without a dbh"] = here.height - kept.height
    left_out["trees of species not known here"] = kept.filter(~pl.col("SPCD").is_in(list(species.all_species()))).height
    return kept.select(
        "county",
        "visit",
        pl.when("is_whole").then(pl.col("SUBP").cast(pl.String)).otherwise(pl.lit(_WHOLE_PLOT)).alias("point"),
        pl.format("{}-{}", "SUBP", "TREE").alias("tree"),
        pl.col("SPCD").alias("species"),
        pl.col("DIA").alias("dbh_in"),
        pl.lit(1).alias("stems"),
        pl.lit(1).alias("edge_count"),
        "status",
        "crown_class",
        pl.when(pl.col("HT") >= TABLES["trees"].columns["height_ft"].low).then("HT").alias("height_ft"),
        pl.col("CR").alias("crown_ratio_pct"),
    ).sort("visit", "point", "tree")


def _word(column: str) -> Any:
    """The contract's word for a code of the inventory, blank where it has none."""
    words = {int(row["code"]): row["word"] for row in tables.rows(_CODES, keys=3) if row["inventory_column"] == column}
    return pl.col(column).replace_strict(words, default="", return_dtype=pl.String)
