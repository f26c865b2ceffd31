"""Answers that answer nothing: each must be of a question, heading, code, unit or sheet of the file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from overwood.ground.errors import Misuse
from overwood.memory.exchange import body, headings
from overwood.memory.exchange.draft import Draft
from overwood.memory.exchange.proposal import Answers, Proposal

# Questions that the values of a file raise or do not: an answer to one that is not raised does no harm.
_ASKED_WHERE_NEEDED = {
    "baf_ft2_ac",
    "plot_area_ac",
    "day_order",
    "day_numbers",
    "blank_species",
    "blank_count",
    "basal_area",
    "figures",
    "two_units",
    "apart_dbh_in",
    "apart_height_ft",
    "apart_crown_ratio_pct",
    "apart_basal_diameter_in",
    "outside_ring",
    "coordinates",
    "bites",
    "browsed",
    "hidden_rows",
    "dbh_read",
    "acorns_read",
    "nearest_trees",
    "old_days",
    "own_sums",
    "remarks",
    "plot_names",
    "plot_parts",
    "genus_beside",
    "slender",
    "species_numbers",
    "cut_trees",
    "columns_read",
    "columns_left",
    "lines_again",
    "plots_skipped",
    "same_plots",
    "sheets_together",
    "young_dead",
    "many_logs",
    "more_diameters",
    "commas",
    "plots_read",
    "plots_again",
    "year",
    "other_factor",
    "factor_unit",
    "plot_unit",
    "no_headings",
    "merchantable_unit",
    "sum_rows",
    "struck_rows",
    "empty_plots",
    "slope",
    "stems",
    "stand_in_plot",
    "borderline",
}


def refuse(proposal: Proposal, answers: Answers, read_sheets: Sequence[body.Body], made: Sequence[Draft]) -> None:
    """Every answer must be of a question, heading, code or sheet of the file. Raises Misuse at the first that is not;
    it names those that are."""
    sheets = [draft.sheet.name for draft in made]
    _refuse_keys("--table", answers.tables, sheets, "sheet", prefixes=())
    names = list(dict.fromkeys((*sheets, *(draft.said.sheet for draft in made))))
    asked = {key.rpartition(".")[2] for one in proposal.questions if one.kind == "set" for key in (one.key, *one.also)}
    _refuse_keys("--set", answers.settings, asked | _ASKED_WHERE_NEEDED, "question", prefixes=names)
    written = {text for one in read_sheets for texts in (one.written or {}).values() for text in texts}
    columns = {column for one in read_sheets for column in (one.written or {})}
    _refuse_keys(
        "--code",
        answers.codes,
        written,
        "code",
        prefixes=(*names, *columns, *(f"{n}.{c}" for n in names for c in columns)),
    )
    units = {column for one in read_sheets for column in one.units}
    _refuse_keys("--unit", answers.units, units, "column with a unit", prefixes=names)
    cells = {cell for draft in made if draft.layout for cell in draft.layout.headings if cell}
    _refuse_keys("--map", answers.columns, cells, "heading", prefixes=names)
    _refuse_columns(answers, made)


def _refuse_keys(
    option: str, told: Mapping[str, str], known: Sequence[str] | set[str], word: str, *, prefixes: Sequence[str]
) -> None:
    held = set(known)
    for key in told:
        tails = {key.removeprefix(f"{prefix}.") for prefix in prefixes if key.startswith(f"{prefix}.")}
        if key in held or tails & held:
            continue
        shown = ", ".join(sorted(held)[:30]) or "none"
        raise Misuse(
            f"{option} {key}={told[key]} answers no question: the file has no such {word}.", remedy=f"Known: {shown}."
        )


def _refuse_columns(answers: Answers, made: Sequence[Draft]) -> None:
    for heading, column in answers.columns.items():
        fits = {name for draft in made if draft.table for name in headings.columns_of(draft.table)}
        if column != "-" and column not in fits and fits:
            raise Misuse(
                f"{heading!r} cannot be taken as {column!r}.",
                remedy=f"It can be {', '.join(sorted(fits))}, or - for none.{_other_tables(column)}",
            )


def _other_tables(column: str) -> str:
    """The tables that have a column, in words; "" where none has it."""
    having = [table for table in headings.tables() if column in headings.columns_of(table)]
    return f" A sheet of {' or '.join(having)} has that column: say that this sheet is one." if having else ""
