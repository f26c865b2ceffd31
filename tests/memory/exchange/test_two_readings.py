"""Sheets that can be read in two ways of which only one is right: a person says which."""

from __future__ import annotations

import pytest

from foreign_files import PLACE, PRISM, proposed, read, rows

PLOTS = PLACE | {"plot_area_ac": "0.1"}
TALL = "Plot,Sp,DBH (in),Ht (ft)\n1,WO,18,{}\n1,BO,22,{}\n2,YP,20,{}\n"
SUBPLOTS = "Plot,Subplot,Sp,DBH (in)\n" + "".join(
    f"{plot},{{0}},WO,18\n{plot},{{0}},BO,{{2}}\n{plot},{{1}},RM,3\n{plot},{{1}},RM,2\n" for plot in (1, 2, 3)
)
SUFFIXED = SUBPLOTS.replace(",{0},", ",").replace(",{1},", "S,").replace("Subplot,", "")


def asked(text, **said):
    return {one.key for one in proposed(text, **said).open_questions}


def test_short_heights_in_whole_half_logs_are_total_or_merchantable():
    """A white oak of 18 in. that is 32 ft tall in all is rare; one with two logs of 16 ft is usual."""
    text = TALL.format(32, 40, 48)
    told = {
        answer: [(row["height_ft"], row.get("logs", "")) for row in rows(read(text, settings=PRISM | {"short_heights": answer}), "trees")]
        for answer in ("total", "merchantable")
    }

    assert asked(text, settings=PRISM) == {"short_heights"}
    assert told == {"total": [("32", ""), ("40", ""), ("48", "")], "merchantable": [("", "2"), ("", "2.5"), ("", "3")]}


@pytest.mark.parametrize("text", [TALL.format(72, 80, 88), TALL.format(32, 41, 48), TALL.format(32, 40, 48).replace("Ht", "Total Ht")])
def test_heights_of_whole_trees_are_not_asked_about(text):
    assert asked(text, settings=PRISM) == set()


@pytest.mark.parametrize(
    ("text", "kinds"),
    [(SUBPLOTS.format(*kinds, 22), kinds) for kinds in (("Over", "Sap"), ("T", "S"), ("Large", "Small"))]
    + [(SUFFIXED.format("", "", 22), ("without S", "S"))],
)
def test_two_names_within_plots_whose_trees_are_parted_by_size_are_rings_or_parts(text, kinds):
    """Two saplings on each of three plots of 1/100 acre are 200 an acre; of the same plots of 1/10 acre, 20."""
    large, small = (f"sheet: {kind}." for kind in kinds)
    rings = {
        f"{large}layer": "overstory", f"{large}plot_area_ac": "0.1", f"{large}low_dbh_in": "4.5",
        f"{small}layer": "midstory", f"{small}plot_area_ac": "0.01", f"{small}low_dbh_in": "1", f"{small}high_dbh_in": "4.5",
    }  # fmt: skip
    told = {
        "rings": read(text, settings=PLACE | rings | {"plot_rings": "rings"}),
        **{way: read(text, settings=PLOTS | {"plot_rings": way}) for way in ("one", "apart")},
    }

    assert "plot_rings" in asked(text, settings=PLOTS)
    assert {way: len({row["point"] for row in rows(done, "trees")}) for way, done in told.items()} == {"rings": 3, "one": 3, "apart": 6}
    assert {row["layer"]: row["plot_area_ac"] for row in rows(told["rings"], "rings")} == {"overstory": "0.1", "midstory": "0.01"}


def test_subplots_are_rings_where_a_title_names_two_sizes_of_plots():
    mixed = SUBPLOTS.format("A", "B", 2.5).replace("18", "3")
    assert asked(mixed, settings=PLOTS) == set()
    assert "plot_rings" in asked("1/10 ac plots and 1/100 ac saplings,,,\n" + mixed, settings=PLOTS)
