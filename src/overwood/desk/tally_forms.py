"""What a visit of each kind is typed as, and what a sheet for it has printed: the table of its lines and their
columns."""

from __future__ import annotations

from dataclasses import dataclass

from overwood.ground.records import TABLES


@dataclass(frozen=True)
class Form:
    """What a visit of one kind is typed as: the table of its lines, their columns, and how stems were taken in."""

    about: str
    table: str = ""
    columns: tuple[str, ...] = ()
    # Layer of the ring the lines belong to, "" where nothing is sampled by area.
    layer: str = ""
    # Name of the column that numbers the lines; "" where the person numbers them.
    number: str = ""

    @property
    def plotted(self) -> bool:
        """Whether plots without any line count as zeros, so that all that were looked at are named."""
        return "point" in self.columns and bool(self.layer)

    @property
    def summed(self) -> tuple[str, ...]:
        """Columns of numbers, which the foot of a sheet sums."""
        numbers = TABLES[self.table].columns if self.table else {}
        return tuple(name for name in self.columns if numbers[name].kind in ("number", "integer"))


_TREES = ("point", "species", "dbh_in", "stems", "status", "crown_class")
_YOUNG = ("point", "species", "height_class", "stems", "browsed", "place")
_RADII = ("radius_north_ft", "radius_east_ft", "radius_south_ft", "radius_west_ft")
FORMS = {
    "reproduction": Form("young stems on plots", "seedlings", _YOUNG, "reproduction", "line"),
    "recount": Form("the same plots again", "seedlings", _YOUNG, "reproduction", "line"),
    "acorn": Form(
        "numbered oaks: who bears",
        "acorn_trees",
        ("tree", "species", "dbh_in", "bearing", "acorns", "method", "limbs", "seconds"),
    ),
    "cruise": Form(
        "trees at points or on plots",
        "trees",
        (*_TREES, "height_ft", "logs", "grade", "defect_pct"),
        "overstory",
        "tree",
    ),
    "crown": Form("crown radii", "crowns", ("tree", "species", "dbh_in", *_RADII)),
    "site": Form("cored trees: age and height", "site_trees", ("tree", "species", "dbh_in", "age_yr", "height_ft")),
    "light": Form("readings of light or sky", "light_readings", ("point", "light_pct", "measures", "device")),
    "fuel": Form(
        "fuel, litter and the feet of leave trees",
        "fuels",
        ("point", "fuel_model", "litter_in", "duff_in", "oak_leaf_pct", "leave_trees", "leave_trees_with_debris"),
    ),
    "marking check": Form("only the trees the crew leaves", "trees", _TREES, "overstory", "tree"),
    "residual check": Form("what the cut left, and what it hurt", "trees", (*_TREES, "damage"), "overstory", "tree"),
    "injection check": Form(
        "every treated stem, live or dead", "trees", ("point", "species", "dbh_in", "stems", "status"), "", "tree"
    ),
    "inspection": Form("a look without a tally; write what was seen in the note"),
}
