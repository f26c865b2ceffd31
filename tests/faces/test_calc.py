"""The formula desk from the command line: its contract, and what happens to wrong input."""

from __future__ import annotations

import json

import pytest

from overwood.desk.formulas import every
from overwood.faces.cli import main as door
from overwood.ground.sources import all_sources

EXAMPLES = {
    "plot-radius": ("area_ac=0.1",),
    "point-expansion": ("baf_ft2_ac=10", "dbh_in=12"),
    "sample-mean": ("values=1,2,3",),
    "stratified-mean": ("means=10,20", "variances=4,9", "counts=5,5", "areas=30,10", "level=0.9"),
    "proportion-interval": ("hits=42", "n=60", "level=0.8"),
    "plots-needed": ("cv_pct=45", "error_pct=10", "level=0.9"),
    "plots-for-proportion": ("share=0.59", "margin=0.1", "level=0.9"),
    "basal-area": ("dbh_in=10,12", "tpa=50,20"),
    "stocking": ("dbh_in=10,12", "tpa=50,20"),
    "stocking-from-stand": ("ba_ft2_ac=90", "tpa=220"),
    "crown-width-open": ("dbh_in=18",),
    "crown-width": ("species=802", "dbh_in=18"),
    "site-index": ("species=black oak", "age_yr=80", "height_ft=87"),
    "dominant-height": ("species=QUVE", "age_yr=80", "site_index_ft=70"),
    "stump-sprout": ("species=white oak", "dbh_in=14"),
    "random-stocking": ("stems_ac=433", "plots_per_acre=735"),
    "reproduction-verdict": ("plots=60", "stocked=24", "sprouts_ac=19.3", "level=0.9"),
    "advance-success": ("basal_diameter_in=0.5", "site_index_ft=65"),
    "acorn-fate": ("acorns_ac=210000", "insect_share=0.05", "buried=0", "survival_share=0.26"),
}
SPINE_OUTPUTS = {
    "plot-radius": ["radius_ft"],
    "point-expansion": ["trees_per_acre", "limiting_distance_ft"],
    "sample-mean": ["mean", "se", "low", "high", "n"],
    "stratified-mean": ["mean", "se", "low", "high"],
    "proportion-interval": ["share", "low", "high"],
    "plots-needed": ["plots"],
    "plots-for-proportion": ["plots"],
    "basal-area": ["ba_ft2_ac", "tpa", "qmd_in"],
    "stocking": ["stocking_pct", "b_line_pct"],
    "stocking-from-stand": ["stocking_pct", "qmd_in"],
    "crown-width-open": ["crown_width_ft", "crown_area_pct_ac"],
    "crown-width": ["crown_width_ft"],
    "site-index": ["site_index_ft"],
    "dominant-height": ["height_ft"],
    "stump-sprout": ["share"],
    "random-stocking": ["share"],
    "reproduction-verdict": ["stocked_share", "low", "high", "needed_share", "verdict", "dominants_at_20_ac"],
    "advance-success": ["share"],
    "acorn-fate": ["sound_ac", "germinants_ac", "seedlings_ac"],
}


@pytest.fixture
def calc(capsys):
    def call(*words: str) -> tuple[int, str, str]:
        status = 0
        try:
            door.main(["calc", *words])
        except SystemExit as done:
            status = int(done.code or 0)
        out = capsys.readouterr()
        return status, out.out, out.err

    return call


def test_the_contract_lists_these_formulas():
    assert set(SPINE_OUTPUTS) <= set(every())


@pytest.mark.parametrize("name", SPINE_OUTPUTS)
def test_a_formula_answers_as_the_contract_says(calc, name):
    status, out, err = calc(name, *EXAMPLES[name], "--json")

    answer = json.loads(out)
    assert (status, err) == (0, "")
    assert set(answer) == {"name", "values", "units", "inputs", "equation", "sources", "status", "notes"}
    assert list(answer["values"]) == SPINE_OUTPUTS[name]
    assert set(answer["units"]) == set(answer["values"])
    assert set(answer["sources"]) <= set(all_sources())
    assert answer["status"] in ("published", "memory", "practice", "assumption")


@pytest.mark.parametrize("name", SPINE_OUTPUTS)
def test_a_formula_is_shown_in_full(calc, name):
    status, out, _ = calc(name)

    assert status == 0
    assert every()[name].equation in out
    assert all(key in out for key in every()[name].keys)


def test_the_list_names_all(calc):
    _, out, _ = calc("--json")

    assert [entry["name"] for entry in json.loads(out)] == list(every())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("plot-radiux", "area_ac=1"), "nearest is 'plot-radius'"),
        (("plot-radius", "acres=1"), "has no key 'acres'"),
        (("plot-radius", "area_ac=-1"), "a number above 0"),
        (("plot-radius", "area_ac=0"), "outside the domain"),
        (("plot-radius", "area_ac=ten"), "Expected a number"),
        (("plot-radius", "area_ac=nan"), "finite"),
        (("plot-radius", "area_ac=1", "area_ac=2"), "given twice"),
        (("plot-radius", "0.1"), "is not key=value"),
        (("point-expansion", "baf_ft2_ac=10"), "needs dbh_in"),
        (("sample-mean", "values=1,two,3"), "separated by commas"),
        (("proportion-interval", "hits=5", "n=3"), "hits is at most n"),
        (("proportion-interval", "hits=1.5", "n=3"), "a whole number"),
        (("proportion-interval", "hits=1", "n=3", "level=1"), "at most 0.9999"),
        (("reproduction-verdict", "plots=10", "stocked=11"), "stocked is at most plots"),
        (("basal-area", "dbh_in=10,12", "tpa=5"), "differ in length"),
        (("basal-area", "dbh_in=10,12", "tpa=0,0"), "no tree"),
        (("stocking", "dbh_in=10", "tpa=0"), "no tree"),
        (("stump-sprout", "species=RO", "dbh_in=10"), "northern red oak (833)"),
        (("stump-sprout", "species=red maple", "dbh_in=10"), "covers oaks"),
        (("site-index", "species=dogwood", "age_yr=50", "height_ft=30"), "no site index curve"),
        (("site-index", "species=unicorn tree", "age_yr=50", "height_ft=30"), "unknown species"),
    ],
)
def test_wrong_input_is_named_and_exits_with_2(calc, words, said):
    status, out, err = calc(*words, "--json")

    assert (status, out) == (2, "")
    assert said in err


def test_a_value_outside_a_publication_is_computed_with_a_note(calc):
    answer = json.loads(calc("stocking-from-stand", "ba_ft2_ac=120", "tpa=50", "--json")[1])

    assert any("outside the published range" in note for note in answer["notes"])


@pytest.mark.parametrize("written", ["802", "QUAL", "white oak", "White Oak", "Quercus alba", "WO"])
def test_a_species_is_given_in_any_standard_way(calc, written):
    answer = json.loads(calc("stump-sprout", f"species={written}", "dbh_in=8", "--json")[1])

    assert answer["values"]["share"] == 0.5


def test_shade_is_yes_no_or_a_share(calc):
    shares = [
        json.loads(calc("stump-sprout", "species=832", "dbh_in=10", f"shade={word}", "--json")[1])["values"]["share"]
        for word in ("no", "yes", "0.5")
    ]

    assert shares == pytest.approx([0.9, 0.72, 0.45])
