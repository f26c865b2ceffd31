"""The national inventory's public tables as parts: each acre as the inventory's own expansion has it, and nothing that it does not say."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from overwood.desk import part_screen
from overwood.desk.question import question
from overwood.ground.errors import BadRecords, NotFound
from overwood.judgement.course import advise
from overwood.memory.exchange import inventory, parts

ON = dt.date(2025, 10, 15)
# Trees an acre that one tallied tree stands for (TPA_UNADJ of a subplot and of a microplot in the published tables).
SUBPLOT, MICROPLOT = 6.018046, 74.965282
_PLOTS = (
    "CN,STATECD,UNITCD,COUNTYCD,PLOT,INVYR,MEASYEAR,MEASMON,MEASDAY,PLOT_STATUS_CD,DESIGNCD,LAT,LON",
    "100,47,1,65,12,2016,2016,6,3,1,1,35.31,-85.2",
    "200,47,1,65,12,2022,2023,6,20,1,1,35.31,-85.2",
    "300,47,1,65,14,2022,2022,7,11,1,1,35.42,-85.1",
    "400,47,1,9,3,2022,2022,8,2,2,1,35.7,-83.9",
    "500,47,1,9,4,2022,2022,8,3,3,1,35.8,-83.8",
    "600,47,1,9,5,2022,2022,8,4,1,312,35.8,-83.7",
)
_CONDITIONS = (
    "PLT_CN,CONDID,COND_STATUS_CD,CONDPROP_UNADJ,SUBPPROP_UNADJ,MICRPROP_UNADJ,STDAGE,SLOPE,ASPECT,RESERVCD,SISP,SICOND,SIBASE,TRTCD1,TRTYR1",
    "100,1,1,1,1,1,80,20,90,0,802,70,50,,",
    "200,1,1,1,1,1,86,20,90,0,802,70,50,10,2019",
    "300,1,1,.6,.6,.5,998,35,180,1,131,80,25,,",
    "300,2,2,.3,.3,.5,,,,,,,,,",
    "300,3,5,.1,.1,,,,,,,,,,",
    "400,1,2,1,1,1,,,,,,,,,",
    "600,1,1,1,1,1,60,,,,,,,,",
)
_TREES = (
    "PLT_CN,SUBP,TREE,CONDID,STATUSCD,SPCD,DIA,HT,CCLCD,CR,STANDING_DEAD_CD,TPA_UNADJ",
    f"100,1,1,1,1,802,9.0,60,3,40,,{SUBPLOT}",
    *(f"200,{sub},1,1,1,802,{dbh},80,{2 + sub % 2},40,,{SUBPLOT}" for sub, dbh in ((1, 16.4), (2, 18.0), (3, 14.2), (4, 20.1))),
    f"200,1,2,1,1,316,2.3,20,5,30,,{MICROPLOT}",
    f"200,4,2,1,1,491,1.4,14,5,30,,{MICROPLOT}",
    f"200,2,9,1,2,833,15,,,,1,{SUBPLOT}",
    f"200,2,10,1,2,833,15,,,,0,{SUBPLOT}",
    "200,2,11,1,3,833,15,,,,,",
    f"300,1,1,1,1,837,12.0,70,3,35,,{SUBPLOT}",
    f"300,2,1,1,1,837,15.0,75,3,35,,{SUBPLOT}",
    f"300,1,2,1,1,318,3.0,25,5,35,,{MICROPLOT}",
    "600,1,1,1,1,802,12,60,3,40,,1.5",
)
_SEEDLINGS = (
    "PLT_CN,SUBP,CONDID,SPCD,TREECOUNT,TREECOUNT_CALC,TPA_UNADJ",
    f"200,1,1,802,2,2,{MICROPLOT}",
    f"200,3,1,316,,7,{MICROPLOT}",
    f"300,1,1,833,3,3,{MICROPLOT}",
)
TABLES = {"PLOT": _PLOTS, "COND": _CONDITIONS, "TREE": _TREES, "SEEDLING": _SEEDLINGS}


def written(folder, **other):
    folder.mkdir(exist_ok=True)
    for name, lines in {**TABLES, **other}.items():
        (folder / f"TN_{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    return inventory.read(written(tmp_path_factory.mktemp("public") / "tn"), ON)


@pytest.fixture(scope="module")
def stands(found, tmp_path_factory):
    """The stands as the advice reads them."""
    folder = tmp_path_factory.mktemp("parts")
    assert inventory.write(found, folder) == 1
    return parts.files_of(parts.frames(folder / "47-065", ON)), folder


def test_the_plots_have_the_areas_that_the_published_expansion_is_the_inverse_of(found):
    """TPA_UNADJ of the published tables: one tree on four subplots, one sapling on four microplots."""
    for layer, expansion in (("overstory", SUBPLOT), ("midstory", MICROPLOT)):
        [area] = found.frames["rings"].filter(visit="47-065-1-12-1 cruise", layer=layer)["plot_area_ac"]
        assert 1 / (4 * area) == pytest.approx(expansion, rel=1e-6)


def test_each_acre_is_that_of_the_inventorys_own_sums(stands):
    """Per acre of a condition: TPA_UNADJ over the condition's share of the plot (the guide's estimate of a ratio), worked by hand."""
    files, _ = stands
    ask = question(ON, None)
    whole, split = (advise(files[name], ask.rules, ON).figures for name in ("47-065-1-12-1", "47-065-1-14-1"))
    area = [math.pi * (dbh / 24) ** 2 for dbh in (16.4, 18.0, 14.2, 20.1)]
    assert whole["overwood_ba_ft2_ac"].number == pytest.approx(SUBPLOT * sum(area), rel=1e-4)
    assert whole["midstory_stems_ac"].number == pytest.approx(2 * MICROPLOT, rel=1e-4)
    area = [math.pi * (dbh / 24) ** 2 for dbh in (12.0, 15.0)]
    assert split["overwood_ba_ft2_ac"].number == pytest.approx(SUBPLOT * sum(area) / 0.6, rel=1e-4)
    assert split["midstory_stems_ac"].number == pytest.approx(MICROPLOT / 0.5, rel=1e-4)


def test_seedlings_without_heights_open_no_gate_that_needs_heights(stands):
    files, folder = stands
    ask = question(ON, None)
    advice = advise(files["47-065-1-12-1"], ask.rules, ON)
    answers = {gate.name: gate.answer for gate in advice.gates}
    assert answers["oak enough"] == answers["low enough"] == answers["competitors under"] == "not looked at"
    assert "Seedlings an acre, counted without heights: 150 of oaks, 525 of others." in files["47-065-1-12-1"].stand.note
    screen = part_screen.screened(parts.frames(folder / "47-065", ON), ask, set())
    table = part_screen.table(screen, "47-065", ask, []).rows_by_key("stand", named=True, unique=True)
    assert table["47-065-1-12-1"]["gate_oak_enough"] == "not looked at"
    assert table["47-065-1-12-1"]["branch"] == advice.branch


def test_a_table_without_a_seedling_says_nothing_of_seedlings(tmp_path):
    bare = inventory.read(written(tmp_path / "tn", SEEDLING=_SEEDLINGS[:1]), ON)
    assert not any("Seedlings" in (note or "") for note in bare.frames["stands"]["note"])


def test_nothing_is_claimed_that_the_tables_do_not_say(stands, found):
    files, _ = stands
    whole, split = (files[name].stand for name in ("47-065-1-12-1", "47-065-1-14-1"))
    assert (whole.slope_pct, whole.aspect_deg, whole.area_ac) == (None, None, None)
    assert (whole.birth_year, whole.site_index_ft, whole.site_index_species) == (2023 - 86, 70.0, 802)
    assert "Trees were cut in 2019" in whole.note
    assert (split.birth_year, split.site_index_ft, split.reserve) == (None, None, True)
    assert "blurred" in files["47-065-1-12-1"].property.note
    assert [tree.status for tree in files["47-065-1-12-1"].trees].count("dead") == 1
    told = {words: count for words, count in found.left_out.items() if count}
    assert told == {"plots that were not sampled": 1, "plots of another design": 1, "earlier visits of the same plots": 1}


def test_every_plot_is_in_the_sample_those_without_forest_too(found):
    """What was not sampled is left out; all else of a plot is in it, as the estimate of a share of the land wants."""
    rows = [(row["county"], row["plot"], row["stand"], row["share"]) for row in found.sample.iter_rows(named=True)]
    assert rows == [
        ("47-009", "47-009-1-3", "", 1.0),
        ("47-065", "47-065-1-12", "47-065-1-12-1", 1.0),
        ("47-065", "47-065-1-14", "", 0.3),
        ("47-065", "47-065-1-14", "47-065-1-14-1", 0.6),
    ]


def test_an_earlier_day_has_the_visit_of_that_day(tmp_path):
    found = inventory.read(written(tmp_path / "tn"), dt.date(2020, 1, 1))
    assert found.frames["visits"]["visited_on"].to_list() == [dt.date(2016, 6, 3)]


def test_tables_that_are_no_public_tables_are_refused(tmp_path):
    with pytest.raises(NotFound, match=r"no PLOT\.csv"):
        inventory.read(tmp_path, ON)
    with pytest.raises(BadRecords, match="has no column STATECD"):
        inventory.read(written(tmp_path / "a", PLOT=("CN,PLOT", "1,2")), ON)
    with pytest.raises(BadRecords, match="holds no tree"):
        inventory.read(written(tmp_path / "c", TREE=_TREES[:1]), ON)
    with pytest.raises(BadRecords, match="cannot be read"):
        inventory.read(written(tmp_path / "b", TREE=(_TREES[0], "200,1,1,1,1,802,wide,80,2,40,,6.018046")), ON)


def test_the_command_says_what_it_brought_and_what_it_left_out(run, tmp_path):
    words = ("region", tmp_path / "r", "--on", ON, "--look", "screen")
    status, out, told = run(*words, "--inventory", written(tmp_path / "tn"))
    assert (status, "2 counties in county_steps.csv" in out) == (0, True)
    assert "2 forest conditions of 3 plots" in told and "1 plots of another design" in told
    assert run(*words, "--inventory", tmp_path / "tn")[0] == 1
