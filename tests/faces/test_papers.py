"""The papers: their words, their cautions, the same bytes for the same data, and user text that stays text."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pypdf
import pytest

import pdf_text
import reading
from conftest import ROOT
from overwood.desk import answers, fire, futures, light, marking, timber
from overwood.faces.papers import (
    burn_calendar,
    burn_plan,
    charts,
    forecast,
    injection_order,
    language,
    light_map,
    marking_map,
    marking_sheet,
    monitoring_sheet,
    owner_brief,
    press,
    stand_table,
    tally_summary,
)
from overwood.faces.telling.figures import labels
from overwood.ground import measures
from overwood.judgement import gates, walking
from overwood.judgement.course import steps
from overwood.judgement.course.steps import all_steps
from tags import faults


def text_of(path) -> str:
    return pdf_text.whole(path)


@pytest.mark.parametrize("stand", [f"S{n}" for n in range(1, 9)])
def test_a_brief_leads_with_the_decision_and_ends_with_cautions(demo_book, ask, tmp_path, stand):
    brief = answers.brief(stand, ask)

    owner_brief.write(brief, tmp_path / "b.pdf")

    text = text_of(tmp_path / "b.pdf")
    assert reading.of_brief(owner_brief.content(brief)) <= 8
    assert brief.advice.title.split(":")[0].split("(")[0].strip() in text
    assert "An oak forest again for whoever comes next" in text
    for caution in brief.advice.cautions:
        assert caution.split(".")[0][:40] in text
    assert text.index("How firm") < text.index("Cautions")
    assert len(pdf_text.pages(tmp_path / "b.pdf")) <= 2
    assert "Forester, date" in text


@pytest.mark.parametrize("stand", ["S2", "S4", "S8"])
def test_a_brief_gives_each_figure_once_with_its_own_span(demo_book, ask, stand):
    brief = answers.brief(stand, ask)
    said = owner_brief.content(brief)

    for name, label in labels().items():
        figure, what, places = brief.advice.figures[name], label["brief"], label["places"]
        if not what:
            continue
        rows = [row for row in said["figures"] if row["what"].removesuffix(" *") == measures.prose(what)]
        assert len(rows) == (1 if figure.measured else 0)
        if not rows:
            continue
        scale = 100 if figure.unit == "share" else 1
        assert rows[0]["value"] == f"{scale * figure.number:,.{places}f}"
        ends = [scale * end for end in (figure.low, figure.high) if end is not None]
        assert rows[0]["span"] == " to ".join(f"{end:,.{places}f}" for end in ends)
    assert not any(letter.isdigit() for text in said["showed"] for letter in text)


def test_a_cut_that_is_not_firm_is_no_decision_in_the_brief(demo_book, ask):
    brief = answers.brief("S2", ask)
    firm = dataclasses.replace(brief.advice, cut_in_doubt=False)
    said = owner_brief.content(brief)

    assert brief.advice.step == "seed_cut" and brief.advice.firm.stays < 0.5
    assert "not firmly" in said["lead"] and said["step"] == "Settle the doubt before the seed cut is marked"
    assert owner_brief.lead(firm).startswith("This is the year for the first cut.")


def test_papers_name_a_log_rule_as_people_write_it(demo_book, ask):
    said = str(tally_summary.content(timber.timber("S2", ask, None, ""), ask.on))

    assert "log rule Doyle" in said and "Sawtimber by International 1/4" in said
    assert "doyle" not in said and "international-" not in said
    assert "On all 34 acres, taken as known: 395,000 bd ft, likely between 318,000 and 510,000." in said
    assert "'species': 'white oak', 'boards': '5,339', 'span': '3,943 to 7,771', 'value': 'no price'" in said


def test_every_answer_of_every_gate_has_a_plain_sentence_without_a_number():
    words = owner_brief.gate_words()

    assert set(words) == set(gates.GATES)
    for entry in words.values():
        assert set(entry) == set(gates.ANSWERS)
        for text in entry.values():
            assert reading.grade([text]) <= 8, text
            assert not any(letter.isdigit() for letter in text)


def test_every_step_is_said_plainly_whatever_leads_the_floor():
    for entry in owner_brief._words().values():
        for rivals in ("trees other than oak", "red maple and yellow-poplar", "eastern hophornbeam and American hornbeam"):
            assert max(reading.grade([words]) for key, words in entry.items() if key != "nothing") <= 8, entry
            assert reading.grade([entry["nothing"].format(rivals=rivals)]) <= 8, entry


def test_a_brief_with_the_longest_words_of_every_branch_has_two_pages(demo_book, ask, tmp_path):
    brief = _with_the_longest_words(answers.brief("S2", ask))

    with press.own_words("Words of the one who signs. " * 53):
        owner_brief.write(brief, tmp_path / "b.pdf")
        owner_brief.write(brief, tmp_path / "sources.pdf", with_sources=True)

    assert len(pdf_text.pages(tmp_path / "b.pdf")) == 2
    assert "Forester, date" in text_of(tmp_path / "b.pdf")
    assert "Sources" not in text_of(tmp_path / "b.pdf")
    assert "Sources" in text_of(tmp_path / "sources.pdf")


def _with_the_longest_words(brief):
    """The brief with as many and as long entries as a stand's file can hold."""
    advice = brief.advice
    longest = [
        dataclasses.replace(gate, answer=max(owner_brief.gate_words()[gate.name].items(), key=lambda one: len(one[1]))[0])
        for gate in advice.gates
    ]
    cautions = tuple(steps.caution(name) for name in steps._plain()["caution"])
    return dataclasses.replace(
        brief,
        advice=dataclasses.replace(
            advice, gates=tuple(longest), doubts=advice.doubts * 4, conflicts=advice.conflicts * 4, cautions=cautions
        ),
        due=brief.due * 4,
        file=dataclasses.replace(
            brief.file,
            operations=tuple(dataclasses.replace(row, note="a note of the crew " * 40) for row in brief.file.operations * 4),
        ),
    )


def test_what_was_paid_counts_work_that_was_done_and_no_plan(demo_book, ask):
    brief = answers.brief("S2", ask)
    row = brief.file.operations[0]
    file = dataclasses.replace(
        brief.file,
        operations=(
            dataclasses.replace(row, state="done", cost_usd=1200.0, income_usd=None),
            dataclasses.replace(row, state="done", cost_usd=None, income_usd=5000.0),
            dataclasses.replace(row, state="planned", cost_usd=700.0, income_usd=9000.0),
        ),
    )

    said = owner_brief.content(dataclasses.replace(brief, file=file))["paid"]

    assert "cost US$ 1,200 " in said
    assert "brought US$ 5,000" in said


def test_a_brief_is_the_same_bytes_for_the_same_data(demo_book, ask, tmp_path):
    for name in ("one", "two"):
        owner_brief.write(answers.brief("S3", ask), tmp_path / f"{name}.pdf")

    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_a_brief_carries_its_fonts(demo_book, ask, tmp_path):
    owner_brief.write(answers.brief("S3", ask), tmp_path / "b.pdf")
    page = pypdf.PdfReader(tmp_path / "b.pdf").pages[0]

    fonts = [font.get_object()["/BaseFont"] for font in page["/Resources"]["/Font"].values()]
    assert fonts
    assert all("SourceSans3" in name for name in fonts)


def test_what_a_user_wrote_is_printed_and_never_run(demo_book, ask, tmp_path):
    brief = answers.brief("S3", ask)
    owner = dataclasses.replace(brief.file.property, objective='#read("/etc/passwd") $x$ *bold* <tag>')
    file = dataclasses.replace(brief.file, property=owner)

    owner_brief.write(dataclasses.replace(brief, file=file), tmp_path / "b.pdf")

    assert '#read("/etc/passwd") $x$ *bold* <tag>' in text_of(tmp_path / "b.pdf")


def test_every_step_has_the_owners_words():
    words = owner_brief._words()

    assert set(words) == set(all_steps())
    assert all(entry["lead"] and entry["nothing"] for entry in words.values())


def test_the_stand_table_holds_every_stand(demo_book, ask, tmp_path):
    found = answers.property_advice(ask)

    stand_table.write(found, tmp_path / "t.pdf")

    text = text_of(tmp_path / "t.pdf")
    assert all(advice.name in text for advice in found)
    assert faults((tmp_path / "t.pdf").read_bytes()) == []


def test_pictures_are_png(demo_book, ask, tmp_path):
    owner_brief.picture(answers.brief("S3", ask), tmp_path / "b.png")
    stand_table.picture(answers.property_advice(ask), tmp_path / "t.png")

    assert (tmp_path / "b.png").read_bytes().startswith(b"\x89PNG")
    assert (tmp_path / "t.png").read_bytes().startswith(b"\x89PNG")


def test_charts_carry_their_data_and_draw_offline(demo_book, ask):
    brief = answers.brief("S3", ask)
    for spec in (charts.diameters(brief.classes), charts.floor(brief.floor)):
        assert "url" not in str(spec)
        assert press.svg(spec).startswith("<svg")
        assert press.svg(spec) == press.svg(spec)


def test_the_palette_is_six_digit_colours():
    assert all(len(colour) == 7 and int(colour[1:], 16) >= 0 for colour in press.LOOK.values())


def test_a_marking_sheet_lists_every_leave_tree_and_its_light(demo_book, ask, tmp_path):
    found = marking.mark("S2", ask, marking.wants(ask), marking.Effort(1, 500), years=5)

    for name in ("one", "two"):
        marking_sheet.write(found, ask.on, tmp_path / f"{name}.pdf")

    text = text_of(tmp_path / "one.pdf")
    assert f"Leave {int(found.marking.leave.sum())} trees" in text
    assert f"{found.marking.light_after.mean_pct:.0f}% of full sun" in text
    best = marking.tree_rows(found)[0]
    assert f"{best['stem']} {best['species']} {best['dbh_in']:.1f} {best['east_ft']:.0f} {best['north_ft']:.0f}" in text
    assert "hung-up (lodged) tree" in text
    assert "Stems injected in October 2022 (about 260 an acre) stand dead here for 2 to 6 years" in text
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()
    marking_sheet.write(found, ask.on, tmp_path / "both.pdf", "both")
    sheets = pdf_text.pages(tmp_path / "both.pdf")
    assert 7 <= len(sheets) <= 9
    assert all("not yet reviewed" in sheet for sheet in sheets)


def test_a_marking_rule_says_what_to_leave_take_and_mind(demo_book, ask, tmp_path):
    wanted = marking.wants(ask)
    drawn = marking.states_told("S3", ask, wanted)
    found = marking.rule_sheet("S3", ask, wanted, drawn)

    marking_sheet.write_rule(found, drawn, ask.on, tmp_path / "r.pdf")

    text = text_of(tmp_path / "r.pdf")
    assert all(" ".join(words.split())[:60] in text for words in (*found.leave, *found.take))
    assert f"{found.light_pct.number:.0f}% of full sun" in text
    assert f"as cruised: {drawn[0].mean_pct:.0f}% of full sun" in text
    assert "hung-up (lodged) tree" in text


def test_a_light_map_draws_a_cell_for_each_part_of_the_floor(demo_book, ask, tmp_path):
    found = light.light("S2", ask)

    chart = light_map.chart(found.block, found.states[0], found.block.overwood, side_px=300)
    light_map.write_picture(found.block, found.states, tmp_path / "l.svg")

    cells, crowns = (layer["data"]["values"] for layer in chart["layer"])
    assert len(cells) == found.states[0].field.size
    assert sum(cell["light"] for cell in cells) / len(cells) == pytest.approx(found.states[0].mean_pct, abs=0.05)
    assert len(crowns) == 305
    assert (tmp_path / "l.svg").read_text().startswith("<svg")


def test_numbers_of_a_crowded_map_do_not_lie_on_each_other():
    # Forty leave trees an acre with numbers of five digits on a sheet drawn 620 px wide.
    rng = np.random.default_rng(4)
    places = rng.random((60, 2)) * 620
    widths = np.full(60, 5 * marking_map._DIGIT * marking_map._LETTER_PX)

    put = marking_map.apart(places, widths)

    gaps = np.abs(put[:, None] - put[None])
    over = (gaps[..., 0] < widths[0] - 1e-9) & (gaps[..., 1] < marking_map._LETTER_PX - 1e-9)
    assert over.sum() == len(put)
    assert np.abs(put - places).max() <= 4 * widths[0]
    before = np.abs(places[:, None] - places[None])
    assert ((before[..., 0] < widths[0]) & (before[..., 1] < marking_map._LETTER_PX)).sum() > len(put)


def test_sheets_of_a_large_map_hold_every_number_once(demo_book, ask):
    found = light.light("S2", ask)
    block = found.block
    nothing = np.zeros(len(block.stems), dtype=bool)
    laid = walking.strips(block.map.width_ft, 66.0)
    parts = marking_map.panels(block.map.width_ft, block.map.height_ft)

    assert [part.name for part in parts] == ["A1", "A2", "B1", "B2"]
    assert [(part.west_ft, part.north_ft) for part in parts] == [(0, 466.7), (233.35, 466.7), (0, 233.35), (233.35, 233.35)]
    charts = [marking_map.chart(block, block.overwood, nothing, part, laid, ("east", "north")) for part in parts]
    numbers = [value["stem"] for chart in charts for value in chart["layer"][-1]["data"]["values"]]
    assert sorted(numbers) == sorted(block.stems[at].stem for at in np.flatnonzero(block.overwood))
    ways = {value["way"] for chart in charts for value in chart["layer"][3]["data"]["values"]}
    assert ways == {f"{n} {'↑' if n % 2 else '↓'}" for n in range(1, 9)}


def test_totals_of_a_marking_sheet_are_those_of_the_marking(demo_book, ask):
    found = marking.mark("S2", ask, marking.wants(ask), marking.Effort(1, 500), years=5)

    whole = marking_sheet.totals(found, language.words("marking_sheet"))[-1]

    assert whole[1:3] == [str(int(found.marking.leave.sum())), f"{found.marking.residual_ba_ft2_ac:.1f}"]
    assert int(whole[3]) == found.calls.count("take") == len(marking.called(found)["taken"]) - found.calls.count("inject")
    walked = found.walk("leave")
    assert [stop.strip for stop in walked] == sorted(stop.strip for stop in walked)
    assert {stop.stem.stem for stop in walked} == set(marking.called(found)["left"])
    for strip in range(1, found.strips.count + 1):
        norths = [stop.stem.north_ft for stop in walked if stop.strip == strip]
        assert norths == sorted(norths, reverse=strip % 2 == 0)


def test_a_burn_plan_takes_its_numbers_from_the_rules(demo_book, ask):
    words = (ROOT / "src" / "overwood" / "faces" / "papers" / "burn_plan" / "words.toml").read_text(encoding="utf-8")
    # Whatever is printed stands behind "=": names of publications stand in comments.
    said = "\n".join(line for line in words.splitlines() if not line.startswith("#"))
    assert not re.findall(r"(?<![\w{])\d[\d,.]*", said)

    rules = ask.rules.with_value("burn_plan_mixing_ft", 2100).with_value("burn_plan_topkill_share", 0.6)
    changed = dataclasses.replace(ask, rules=rules)
    for question, height, share in ((ask, "1,700 ft", "over 80% of"), (changed, "2,100 ft", "over 60% of")):
        content = burn_plan.content(fire.burn("S7", question, weather=None), question.on)
        said = " ".join([*content["go"], *(line for chapter in content["chapters"] for part in chapter["parts"] for line in part["lines"])])
        assert height in said and share in said and "{" not in said


def test_a_draft_burn_plan_holds_every_part_and_no_leave_to_burn(demo_book, ask, tmp_path):
    burn = fire.burn("S7", ask, weather=fire.read_weather(ROOT / "demo" / "weather.csv"), override="trial of the paper")

    for name in ("one", "two"):
        burn_plan.write(burn, ask.on, tmp_path / f"{name}.pdf", fire.burn_warnings("S7", ask))

    text = text_of(tmp_path / "one.pdf")
    # The removal cut of the same winter stands on the prescription: the burn boss is told, and given no command.
    assert "the next step of this stand is another one: Cut now: the removal cut in one entry, 1 Nov 2025" in text
    assert "--law" not in text
    for words in (
        "holds no leave to burn",
        "trial of the paper",
        "NOT FILLED IN",
        "Go or no go",
        "Every line yes, or nobody lights",
        "Fire dispatch",
    ):
        assert words in text
    # The parts follow an order of our own, numbered through.
    chapters = burn_plan.content(burn, ask.on)["chapters"]
    assert [chapter["heading"] for chapter in chapters] == [
        "Who decides",
        "The ground",
        "The day",
        "The people",
        "If it goes wrong",
        "Afterwards",
    ]
    headings = [part["heading"] for part in burn_plan._words()["part"]]
    said = [f"{number}. {heading}" for number, heading in enumerate(headings, start=1)]
    assert [f"{part['number']}. {part['heading']}" for chapter in chapters for part in chapter["parts"]] == said
    places = [text.index(words) for words in said]
    assert len(said) == 22 and places == sorted(places)
    assert all(" ".join(words.split())[:50] in text for words in fire.cautions())
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_an_injection_order_lists_stems_and_cautions(demo_book, ask, tmp_path):
    order, file = fire.injection("S1", ask)

    injection_order.write(order, file, ask.on, tmp_path / "i.pdf")

    text = text_of(tmp_path / "i.pdf")
    for words in ("never an oak", "label is the law", "Tally sheet", "stand dead for 2-6 years", "Applicator and license"):
        assert words in text
    assert all(f"{row.species} {row.dbh_class_in}" in text for row in order.rows)


def test_a_calendar_has_a_cell_for_every_day_of_every_window(demo_book, ask):
    burn = fire.burn("S7", ask, weather=fire.read_weather(ROOT / "demo" / "weather.csv"))

    values = burn_calendar.chart(burn.days[0])["data"]["values"]

    assert len(values) == 43 + 44 + 43
    assert sum(value["burn"] for value in values) == sum(burn.days[0].counts)
    assert sum(value["hours"] for value in values) == sum(season.hours_inside for season in burn.days[0].seasons)


@pytest.mark.slow
def test_the_forecast_speaks_in_frequencies_on_two_pages(demo_book, ask, tmp_path):
    found, file = futures.futures("S1", ask, count=300, sets=30, seed=1)

    for name in ("one", "two"):
        forecast.write(found, file, ask.on, tmp_path / f"{name}.pdf")

    text, best = text_of(tmp_path / "one.pdf"), found.best
    assert f"The best odds here: “{best.course.name}”" in text or "None of the choices tried" in text
    assert f"{forecast.of_ten(best.oak_part_chance)}" in text
    for words in (
        "How sure is this?",
        "no species is promised",
        "Luck makes the rest",
        "Tried again with other luck",
        "Where oak loses",
        "Tests by others",
        "What to do next",
    ):
        assert words in text
    assert len(pdf_text.pages(tmp_path / "one.pdf")) <= 2
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()
    total = {}
    for value in forecast.chart(found)["data"]["values"]:
        total[value["course"]] = total.get(value["course"], 0) + value["of ten"]
    assert all(abs(ten - 10) < 0.2 for ten in total.values())


@pytest.mark.slow
@pytest.mark.parametrize("stand", ["S1", "S4"])
def test_the_forecast_reads_at_grade_eight_or_below(demo_book, ask, stand):
    found, file = futures.futures(stand, ask, count=100, sets=50, seed=1)
    page = forecast.content(found, file, ask.on)
    words = [page["headline"], page["lead"], *page["sure"], *page["measure"], *page["next"], *page["cautions"]]

    assert reading.grade(words) <= 8
    assert not any("_" in text for text in words)


def test_odds_are_said_as_people_say_them():
    assert [forecast.of_ten(chance) for chance in (0.0, 0.02, 0.14, 0.5, 0.97, 1.0)] == [
        "never", "hardly ever", "1 time of 10", "5 times of 10", "nearly always", "10 times of 10",
    ]  # fmt: skip


def test_the_reading_grade_tells_easy_words_from_hard_ones():
    # By hand: 6 words of 6 syllables in one sentence; 9 words of 27 syllables in one sentence.
    assert reading.grade(["The old oak drops its fruit."]) == pytest.approx(0.39 * 6 + 11.8 * 1 - 15.59)
    hard = "Regenerating hardwood communities necessitates considerable silvicultural experimentation, notwithstanding uncertainty."
    assert reading.grade([hard]) > 25


@pytest.mark.parametrize(("stand", "words"), [("S3", "counted 2 September 2025"), ("S8", "never counted")])
def test_a_monitoring_sheet_has_a_line_for_every_plot(demo_book, ask, tmp_path, stand, words):
    file = answers.stand_file(stand).as_of(ask.on)

    monitoring_sheet.write(file, answers.evidence(stand, ask), ask.on, tmp_path / "m.pdf")

    text = text_of(tmp_path / "m.pdf")
    assert words in text and "A plot without oak is a zero" in text
    # A percent sign stands at its number, not behind the span: 39% (31-46).
    assert ")%" not in text and ("% (" in text) == (stand == "S3")
    plots = monitoring_sheet.content(file, answers.evidence(stand, ask), ask.on)["plots"]
    assert len([plot for plot in plots if " F" not in plot]) == 40
    assert len(plots) == (48 if stand == "S3" else 40)
