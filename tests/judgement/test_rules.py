"""The rulebook, the assumptions, and an office's overlay."""

from __future__ import annotations

import pytest

from overwood.desk import overlay as desk
from overwood.ground import plausible
from overwood.ground.errors import BadRule
from overwood.judgement import rules
from overwood.judgement.course.steps import all_steps


def overlay(tmp_path, text):
    (tmp_path / "office.toml").write_text(text)
    return tmp_path / "office.toml"


def test_every_entry_has_a_unit_a_status_a_known_source_and_lies_in_its_range():
    for rule in rules.defaults().entries.values():
        assert rule.unit, rule.name
        if rule.status == "assumption" and not isinstance(rule.value, list):
            assert rule.low is not None and rule.high is not None, rule.name
            assert rule.low <= rule.value <= rule.high, rule.name


def test_an_overlay_changes_a_value_and_the_version(tmp_path):
    mine = rules.load(overlay(tmp_path, 'office = "hill"\n[several_hundred_ac]\nvalue = 350\nnote = "our deer"\n'))

    assert mine.number("several_hundred_ac") == 350
    assert [(d.name, d.default, d.office, d.note) for d in mine.differences] == [("several_hundred_ac", 400, 350, "our deer")]
    assert mine.version.startswith(f"{rules.defaults().version}+hill.")


def test_an_overlay_that_changes_nothing_keeps_the_version(tmp_path):
    assert rules.load(overlay(tmp_path, "[several_hundred_ac]\nvalue = 400\n")).version == rules.defaults().version


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("\n\n[several_hundred_ac]\nvalue = 4000\n", r"line 3: 'several_hundred_ac' is 4000; expected 300 to 500"),
        ("[several_hundred]\nvalue = 400\n", r"no entry 'several_hundred'. The nearest is 'several_hundred_ac'"),
        ("[several_hundred_ac]\n", r"has no value"),
        ('[several_hundred_ac]\nvalue = "many"\n', r"expected a number"),
        ("[window_burn]\nvalue = [1, 2]\n", r"expected two days as month-day"),
        ("[window_burn]\nvalue = ['13-01', '03-31']\n", r"expected two days"),
        ("[several_hundred_ac]\nvalue = 350\nsoruce = 'x'\n", r"has 'soruce'"),
        ("[several_hundred_ac\nvalue = 350\n", r"not readable TOML"),
    ],
)
def test_a_wrong_overlay_names_the_entry_and_the_line(tmp_path, text, words):
    with pytest.raises(BadRule, match=words):
        rules.load(overlay(tmp_path, text))


def test_an_overlay_that_is_not_there_is_said(tmp_path):
    with pytest.raises(BadRule, match="cannot be read"):
        rules.load(tmp_path / "none.toml")


def test_every_step_has_cautions_and_a_known_season():
    for step in all_steps().values():
        assert step.cautions, step.name
        for window in (step.window, step.second_window):
            assert not window or window in rules.defaults().entries
        if step.fells:
            assert any("felled by trained people" in text for text in step.cautions)
    assert any("label" in text for text in all_steps()["inject"].cautions)


def test_a_published_entry_names_the_place_where_it_was_read():
    # A table, a text, an abstract or a summary page: a reader must be able to find the number again.
    kinds = ("table", "text", "abstract", "grade table", "a summary page")
    for rule in rules.defaults().entries.values():
        if rule.status == "published":
            assert rule.place.startswith(kinds), rule.name
        else:
            assert not rule.place, rule.name


@pytest.mark.parametrize(
    ("name", "status"),
    [
        ("burn_flame_low_ft", "assumption"),
        ("burn_collar_in", "assumption"),
        ("burn_topkill_share", "assumption"),
        ("score_acorns", "assumption"),
        ("window_injection", "assumption"),
        ("removal_delay_yr", "assumption"),
        ("veneer_dbh_in", "practice"),
        ("roost_tree_felling", "memory"),
        ("future_tolerant_full_ft_yr", "assumption"),
        ("future_chestnut_shade_logit", "assumption"),
        ("future_burn_tolerant", "assumption"),
    ],
)
def test_a_number_no_publication_gives_is_not_called_published(name, status):
    assert rules.defaults()[name].status == status


def test_the_longer_of_two_oak_wilt_windows_decides():
    longer, shorter = (rules.defaults()[f"oak_wilt_no_wounds{end}"].window for end in ("", "_other"))

    assert longer[0] < shorter[0] and shorter[1] < longer[1]


def test_an_office_changes_a_limit_of_plausibility_within_its_range_and_no_answer_about_a_stand_with_it(tmp_path):
    mine = rules.load(overlay(tmp_path, 'office = "hill"\n[ba_doubted_ft2_ac]\nvalue = 210\nnote = "ridge stands"\n'))

    assert mine.own_limits == {"ba_doubted_ft2_ac": 210}
    assert mine.version == rules.defaults().version
    with pytest.raises(BadRule, match="line 1: 'ba_doubted_ft2_ac' is 900; expected 200 to 300"):
        rules.load(overlay(tmp_path, "[ba_doubted_ft2_ac]\nvalue = 900\n"))


def test_a_limit_whose_name_has_dots_is_written_and_read_back(tmp_path):
    desk.change(tmp_path / "mine.toml", "trees.dbh_in.most", "70", "old growth")

    assert rules.load(tmp_path / "mine.toml").own_limits == {"trees.dbh_in.most": 70}


def test_limits_in_use_go_before_those_of_the_table_until_they_are_taken_back():
    try:
        plausible.use({"ba_doubted_ft2_ac": 210.0, "trees.dbh_in.most": 70.0})
        assert (plausible.limit("ba_doubted_ft2_ac"), plausible.span("trees", "dbh_in")) == (210, (0.5, 70))
    finally:
        plausible.use({})
    assert (plausible.limit("ba_doubted_ft2_ac"), plausible.span("trees", "dbh_in")) == (250, (0.5, 60))
