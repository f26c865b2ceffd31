"""How the stems of a foreign sheet were taken in: factor or plot size, and the sizes looked for."""

from __future__ import annotations

from overwood.ground import plausible, units
from overwood.memory.exchange import asking, classes, design, headings, measures, own_size, plot_kinds
from overwood.memory.exchange.draft import Draft
from overwood.memory.exchange.proposal import Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Lines

_METRIC = {"cm", "mm", "m"}
_LENGTHS = ("dbh_in", "height_ft", "height_class")
# Words of a title row that say how stems were taken in.
_TITLED = (
    ("baf", "baf_ft2_ac"),
    ("basal area factor", "baf_ft2_ac"),
    ("prism", "baf_ft2_ac"),
    ("plot size", "plot_area_ac"),
)


def ring(
    draft: Draft, lines: Lines, said: Said, own: own_size.OwnSizes | None
) -> tuple[design.Design, dict[str, str], list[Question]]:
    """How stems were taken in: the ring of the visits, and its questions."""
    table = draft.table
    if table == "points":
        # A list of plots holds no diameters that would say which unit is likely.
        unit = design.factor_unit(_factors_of_points(draft), True, said)
        return design.Design(), {}, [unit] if unit else []
    if table not in ("trees", "seedlings"):
        return design.Design(), {}, []
    if own:
        size, questions, words = own.mean, [], _of_size(own.usual)
        factors = _factors_of_points(draft)
    else:
        written, where = _written(draft, lines)
        size, question = design.question(table, said, written, where)
        questions, words = [question], _of_size(size)
        name, text = said.design() if said.design()[1] else written
        factors = [text] if name == "baf_ft2_ac" else []
        plot = design.plot_unit(written, said) if not said.design()[1] and _is_metric(draft, lines, said) else None
        questions += [plot] if plot else []
    unit = design.factor_unit(factors, _is_metric(draft, lines, said), said) if table == "trees" else None
    questions += [unit] if unit else []
    limits, asked = _limits(draft, lines, said)
    more = (
        {"layer": "reproduction"} if table == "seedlings" else {"layer": said.setting("layer").lower() or "overstory"}
    )
    return size, {**more, **words, **limits}, [*questions, *asked]


def _written(draft: Draft, lines: Lines) -> tuple[tuple[str, str], str]:
    """The one factor or plot size that a sheet, or a kind of plots on it, says, as (column, text), and where."""
    layout = draft.layout
    assert layout is not None
    written = sorted(own_size.written(lines))
    by_kind = plot_kinds.size_of(draft.plot_kind)
    if not written and by_kind[0]:
        return by_kind, f"the kind of plot is {draft.plot_kind!r}"
    if not written:
        titled = next(
            ((column, *layout.title_pairs[word]) for word, column in _TITLED if word in layout.title_pairs), ("", "", 0)
        )
        if titled[1]:
            return (titled[:2], f"row {titled[2]} says {titled[1]}")
        named = _in_passing(layout.title_text, draft.table, "the title says")
        return named if named[1] else _in_passing(layout.sheet, draft.table, "the sheet is named")
    name, text = written[0]
    if name not in draft.places:
        return (name, text), f"rows among the plots say {text}"
    heading = layout.headings[draft.places[name]]
    return (name, own_size.with_unit(text, heading)), f"the column {heading!r} says {text}"


def _in_passing(title: str, table: str, says: str) -> tuple[tuple[str, str], str]:
    """The one factor or plot size that a title, or the name of a sheet, names in passing; of several none is taken."""
    factors, plots = design.sizes_named(title)
    where = f"{says} {title[:80]!r}"
    if table == "trees" and len(factors) == 1 and not plots:
        return ("baf_ft2_ac", f"{factors[0]:.7g}"), where
    if len(plots) == 1 and (table == "seedlings" or not factors):
        return ("plot_area_ac", f"{plots[0]:.7g}"), where
    return ("", ""), ""


def _factors_of_points(draft: Draft) -> list[str]:
    """The factors of a sheet whose points differ, each with the unit of its heading."""
    place = draft.places.get("baf_ft2_ac")
    heading = draft.layout.headings[place] if draft.layout and place is not None else ""
    written = sorted(own_size.written(draft.lines)) if draft.lines else []
    return [own_size.with_unit(text, heading) for name, text in written if name == "baf_ft2_ac"]


def _is_metric(draft: Draft, lines: Lines, said: Said) -> bool:
    """Whether diameters or heights are in a metric unit: as told, by their heading, in their cells or by the title."""
    layout = draft.layout
    assert layout is not None
    for column in (name for name in _LENGTHS if name in lines.columns):
        own = {size[1] for value in lines.values(column) if (size := classes.measure(value)) is not None}
        # Classes that stand in the headings of several columns are in the cells of the lines made of them.
        heading = layout.headings[draft.places[column]] if column in draft.places else ""
        named = said.unit(column) or headings.unit_in(heading)
        named = named or measures.unit_in_title(column, layout.title_text)
        if named in _METRIC or (not named and own & _METRIC):
            return True
    return False


def _of_size(size: design.Design) -> dict[str, str]:
    if size.plot_area_ac:
        return {"design": "fixed", "plot_area_ac": repr(size.plot_area_ac)}
    return {"design": "prism", "baf_ft2_ac": f"{size.baf_ft2_ac:g}"} if size.baf_ft2_ac else {}


def _are_small(draft: Draft, lines: Lines, said: Said) -> bool:
    """Whether no tree of a sheet is as thick as those of a canopy."""
    place, layout = draft.places.get("dbh_in", -1), draft.layout
    own = said.unit("dbh_in") or (headings.unit_in(layout.headings[place]) if layout and place >= 0 else "")
    sizes = [size for value in lines.values("dbh_in") if (size := classes.measure(value)) is not None]
    most = plausible.limit("small_ring_most_dbh_in")
    known = [(number, unit or own or "in") for number, unit in sizes if (unit or own or "in") in units.units_into("in")]
    return bool(known) and all(units.conversion(unit, "in")(number) <= most for number, unit in known)


def _limits(draft: Draft, lines: Lines, said: Said) -> tuple[dict[str, str], list[Question]]:
    """The sizes that were looked for; needed of trees where the sheets share visits and must not overlap."""
    if draft.table == "seedlings":
        asked = [
            asking.limit(
                "low_height_ft",
                "What is the shortest stem that was counted (0: new seedlings too)?",
                said,
                "",
                False,
            ),
            asking.limit(
                "high_height_ft",
                "Up to which height were stems counted (blank: no limit)?",
                said,
                "",
                False,
            ),
            asking.looked_for(said),
        ]
        names: tuple[str, ...] = ("low_height_ft", "high_height_ft", "looked_for")
    else:
        sizes = map(measures.with_point, lines.values("dbh_in"))
        seen = [size[0] for value in sizes if (size := classes.measure(value)) is not None]
        shown = f"diameters of the sheet run from {min(seen):g} to {max(seen):g}, as written" if seen else ""
        low = "What is the least dbh that was taken in? What is smaller counts as not looked for."
        high = "From which dbh does another ring take over (blank: none)?"
        asked = [
            asking.layer(said, _are_small(draft, lines, said)),
            asking.limit("low_dbh_in", low, said, shown, False),
            asking.limit("high_dbh_in", high, said, shown, False),
            asking.looked_for(said),
        ]
        names = ("", "low_dbh_in", "high_dbh_in", "looked_for")
    told = {name: one.value for name, one in zip(names, asked, strict=True) if name and one.value}
    return told, [one.question for one in asked]
