"""The command line: every command has help, speaks JSON, and fails with words and the right status."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import pdf_text
from conftest import ROOT
from overwood.desk import kept
from overwood.faces.cli import main as door
from overwood.faces.cli.commands import demo
from overwood.faces.papers import press
from records import SHEETS, bent, write
from unit_words import has_us_unit, left_on_paper

DAY = ("--on", "2025-10-15")


@pytest.mark.parametrize("name", door.COMMANDS)
def test_every_command_has_help(run, name):
    status, out, _ = run(name, "--help")

    assert status == 0
    assert "Usage:" in out
    assert len(out.splitlines()) > 4


def test_help_lists_every_command(run):
    status, out, _ = run("--help")

    assert status == 0
    assert all(name in out for name in door.COMMANDS)


def test_help_imports_nothing_heavy():
    # The start-up time itself is measured by make bench; this is what keeps it short.
    script = (
        "import sys; from overwood.faces.cli import main\n"
        "try: main.main(['--help'])\nexcept SystemExit: pass\n"
        "heavy = {'numpy', 'django', 'polars', 'scipy', 'rich', 'typst', 'shapely', 'numba'} & set(sys.modules)\n"
        "print('heavy:', sorted(heavy))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)

    assert done.stdout.strip().endswith("heavy: []")


def test_a_formula_by_hand_loads_the_formulas_of_its_own_room_only():
    script = (
        "import sys\n"
        "from overwood.desk import formulas\n"
        "formulas.compute('stocking', {'dbh_in': '10,12', 'tpa': '20,30'})\n"
        "others = {f'overwood.desk.formulas.{room}' for room in ('timber', 'light', 'fire', 'futures')} | {'numba', 'scipy'}\n"
        "sys.exit(len(others & set(sys.modules)))\n"
    )
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0


def test_a_wrong_command_names_the_nearest_and_exits_with_2(run):
    status, _, err = run("advice", "S1")

    assert status == 2
    assert "nearest is 'advise'" in err


@pytest.mark.parametrize(
    "words",
    [
        ("advise", "S3"),
        ("evidence", "S3"),
        ("evidence", "S3", "--by"),
        ("why", "S3", "oak_verdict"),
        ("property",),
        ("due",),
        ("changes", "S3"),
        ("bearers", "S2"),
        ("plots", "S3", "--count", "5"),
        ("file", "S2"),
        ("light", "S2"),
        ("light", "S4"),
        ("mark", "S2", "--moves", "200"),
        ("light", "S2", "--fit"),
        ("mark", "S4"),
        ("marking-check", "S2"),
        ("residual-check", "S3"),
        pytest.param(("watch", "S3", "--draws", "300", "--alone"), marks=pytest.mark.slow),
        pytest.param(("futures", "S1", "--futures", "100", "--sets", "10"), marks=pytest.mark.slow),
        ("injection", "S1"),
        ("injection", "S2", "--check"),
        ("burn", "S7"),
        ("burn", "S7", "--weather", ROOT / "demo" / "weather.csv", "--prices", ROOT / "demo" / "prices.toml"),
        ("light", "S2", "--models"),
        ("mark", "S2", "--moves", "100", "--prices", ROOT / "demo" / "prices.toml", "--trade-off", "value"),
    ],
)
def test_every_answer_speaks_json(run, demo_book, words):
    status, out, _ = run(*words, "--book", demo_book, *DAY, "--json")

    assert status == 0
    assert json.loads(out)


def test_advice_in_words_has_reason_season_doubt_and_caution(run, demo_book):
    status, out, _ = run("advise", "S3", "--book", demo_book, *DAY)

    assert status == 0
    for words in (
        "Next step: Add plots (56 in all; 40 now)",
        "15 Aug to 30 Sep 2026",
        "Doubts",
        "stiltgrass",
        "Set aside",
        "Cautions",
        "Gates",
        "unsure",
    ):
        assert words in out


def test_a_table_that_goes_elsewhere_is_as_wide_as_columns_says(capsys, monkeypatch):
    from overwood.faces.cli import output

    widths = []
    for columns in ("", "80"):
        monkeypatch.setenv("COLUMNS", columns)
        output.table(("stand", "why"), [("S1", "no oak of this stand is high enough to be seen over the ferns " * 4)])
        widths.append(max(map(len, capsys.readouterr().out.splitlines())))
    assert widths == [150, 80]


def test_why_unfolds_to_the_tally_row_and_the_source(run, demo_book):
    _, out, _ = run("why", "S3", "oak_verdict", "--book", demo_book, *DAY)

    assert "Sander I. L., Johnson P. S. and Watt R. F. (1976)" in out
    assert "seedlings: visit S3-2025-count, point 3" in out
    assert "rests on: memory" in out


def test_why_of_an_unknown_figure_names_the_nearest(run, demo_book):
    status, _, err = run("why", "S3", "oak_verdit", "--book", demo_book, *DAY)

    assert status == 1
    assert "nearest is 'oak_verdict'" in err


def test_metric_figures_are_the_same_figures(run, demo_book):
    _, us, _ = run("evidence", "S3", "--book", demo_book, *DAY)
    _, metric, _ = run("evidence", "S3", "--metric", "--book", demo_book, *DAY)

    assert "ft2/ac" in us and "m2/ha" not in us
    assert "m2/ha" in metric and "stems/ha" in metric


def test_json_of_metric_advice_keeps_its_own_units(run, demo_book):
    _, plain, _ = run("advise", "S3", "--metric", "--json", "--book", demo_book, *DAY)

    assert "58 ft2/ac" in plain and "m2/ha" not in plain


# What a command says in metric, by hand where it is a conversion: 1.37 m is 4.5 ft, 2.47105 acres a hectare.
METRIC = {
    "advise S3": "13.3 m2/ha",
    "burn S7 --weather WEATHER --override trial --plan made.pdf": "wind at 6.1 m",
    "injection S1 --order made.pdf": "stems/ha",
    "mark S1 --sheet made.pdf": "leave, m2/ha",
    "mark S2 --moves 500 --trees trees.csv --sheet made.pdf": "trees (",
    "sale S2 --marking trees.csv --prices PRICES --notice made.pdf": "pulpwood",
    "choices S3 --prices PRICES --page made.pdf": "US$/ha",
    "owner-walk S8 --to made.pdf": "Leaflet written",
    "light S3": "m2/ha standing",
    "timber S3 --prices PRICES": "US$/ha",
    "watch S3 --draws 200": "1.37 m or taller",
}  # fmt: skip


def test_no_command_leaves_a_us_unit_in_metric_and_what_its_papers_print_is_kept_in_us_units(run, demo_book, monkeypatch, tmp_path):
    made = []
    monkeypatch.setattr(press, "_compiled", lambda template, data, kind, **more: made.append(data | {"foot": press._ANSWER.get()}) or b"")
    monkeypatch.chdir(tmp_path)
    demo = {"WEATHER": ROOT / "demo" / "weather.csv", "PRICES": ROOT / "demo" / "prices.toml"}

    left = {}
    for command, said in METRIC.items():
        made.clear()
        status, out, _ = run(*(demo.get(word, word) for word in command.split()), "--metric", "--book", demo_book, *DAY)
        assert status == 0 and said in out, (command, out)
        # The answer that a paper in metric names is kept in US units.
        named = [kept.of(int(re.match(r"Answer (\d+)", one["foot"])[1])) for one in made]
        assert len(named) == ("made.pdf" in command) and not re.search(r"\d m2/ha|\d cm\b", str([one.result for one in named])), command
        if found := [line for line in out.splitlines() if has_us_unit(line)] + (left_on_paper(made[-1]) if made else []):
            left[command] = found

    assert left == {}


def test_an_answer_that_is_kept_is_made_in_us_units_and_says_so(run, demo_book):
    status, out, err = run("watch", "S3", "--draws", "200", "--keep", "--metric", "--book", demo_book, *DAY)

    assert status == 0 and "in US units" in err and "4.5 ft or taller" in out
    assert "m2/ha" not in str(kept.newest("S3", "watch").result)


def test_an_import_and_what_comes_of_it(run, tmp_path, monkeypatch):
    book, ahead = tmp_path / "mine.sqlite3", []
    monkeypatch.setattr("overwood.desk.warm.ahead", lambda: ahead.append("compiles behind it"))

    status, out, _ = run("import", write(tmp_path, dict(SHEETS)), "--book", book)

    assert (status, len(ahead)) == (0, 1)
    assert "4 trees" in out
    status, out, _ = run("import", write(tmp_path, dict(SHEETS)), "--book", book)
    assert (status, "already in the book" in out) == (0, True)


def test_the_first_demo_waits_for_no_compiler_and_the_papers_that_do_come_behind_it(run, tmp_path, monkeypatch):
    begun = []
    monkeypatch.setattr("overwood.desk.warm.ahead", lambda room: None)
    monkeypatch.setattr("overwood.desk.warm.compiled", lambda part: False)
    monkeypatch.setattr(demo.subprocess, "Popen", lambda command, **_: begun.append(command))
    monkeypatch.setattr(demo, "_papers", lambda *_: [])
    status, out, _ = run("demo", "--out", tmp_path)

    assert (status, len(begun)) == (0, 1)
    assert "To come there within a minute: S1-injection.pdf, S7-burn-days.svg, S2-marking.pdf" in out
    compiled = []
    monkeypatch.setattr("overwood.desk.warm.warm", lambda say, parts: compiled.extend(parts))
    for name in ("_injection", "_burn", "_marking"):
        monkeypatch.setattr(demo, name, lambda stand, *more, of=name: more[-1].write_text(of) and f"{stand} {of}")
    status, out, _ = run(*begun[0][4:])

    assert (status, compiled) == (0, ["light"])
    assert out.split() == ["S1", "_injection", "S7", "_burn", "S2", "_marking"]
    assert (tmp_path / "S1-injection.pdf").read_text() == "_injection"


def test_a_faulty_import_exits_with_1_and_shows_the_way_on(run, tmp_path):
    book = tmp_path / "mine.sqlite3"

    status, out, _ = run("import", write(tmp_path, bent("trees", "18.2", "=1+1")), "--book", book, "--faults", tmp_path / "faults.csv")

    assert status == 1
    assert "row 2, column dbh_in" in out
    assert "overwood quarantine release 1" in out
    assert "'=1+1" in (tmp_path / "faults.csv").read_text(encoding="utf-8-sig")
    status, out, _ = run("quarantine", "release", 1, "--book", book)
    assert (status, "3 trees" in out) == (0, True)


def test_a_foreign_sheet_is_shown_and_taken_only_when_confirmed(run, tmp_path):
    book = tmp_path / "mine.sqlite3"
    run("import", write(tmp_path, {name: SHEETS[name] for name in ("properties", "stands")}), "--book", book)
    (tmp_path / "cruise.csv").write_text("Stand,Date,Plot,Species,DBH cm\nA1,2025-05-01,1,WO,46\nA1,2025-05-01,2,RM,20\n")

    status, out, _ = run("import", tmp_path / "cruise.csv", "--book", book)
    assert (status, "baf_ft2_ac=" in out, "nothing was written. Answer, look at how it is read, and add --yes" in out) == (0, True, True)
    metric = run("import", tmp_path / "cruise.csv", "--look", "--metric", "--book", book)[1]
    assert "a tree stands for 10 ft2/ac" in out and "a tree stands for 2.3 m2/ha" in metric

    status, out, _ = run("import", tmp_path / "cruise.csv", "--book", book, "--yes", "--set", "baf_ft2_ac=10")
    assert status == 0
    assert "2 trees" in out


def test_entries_can_be_undone(run, tmp_path):
    book = tmp_path / "mine.sqlite3"
    run("import", write(tmp_path, dict(SHEETS)), "--book", book)

    status, out, _ = run("entries", "--undo", 1, "--book", book)
    assert status == 1 and "Run the same command with --yes" in out
    status, out, _ = run("entries", "--undo", 1, "--yes", "--book", book)

    assert (status, "withdrawn" in out) == (0, True)
    assert "holds no stand yet" in run("property", "--book", book)[1]


def test_no_book_says_how_to_begin(run, tmp_path):
    status, _, err = run("property", "--book", tmp_path / "none.sqlite3")

    assert status == 1
    assert "overwood import FILE" in err


def test_a_template_filled_and_imported(run, tmp_path):
    status, _, _ = run("template", tmp_path / "sheets")
    assert status == 0
    (tmp_path / "sheets" / "properties.csv").write_text(SHEETS["properties"])

    status, out, _ = run("import", tmp_path / "sheets", "--book", tmp_path / "b.sqlite3")

    assert (status, "1 properties" in out) == (0, True)


def test_backup_and_restore(run, demo_book, tmp_path):
    assert run("backup", tmp_path / "copy.sqlite3", "--book", demo_book)[0] == 0
    run("decide", "S1", "inject", "--book", demo_book, *DAY)

    status, out, _ = run("backup", "--restore", tmp_path / "copy.sqlite3", "--book", demo_book)

    assert (status, "is now the book" in out) == (0, True)
    assert json.loads(run("advise", "S1", "--book", demo_book, *DAY, "--json")[1])["overridden"] == ""


def test_an_overlay_changes_the_advice_and_is_printed(run, demo_book, tmp_path):
    office = tmp_path / "office.toml"
    office.write_text('[crop_bearing_share]\nvalue = 0.6\nnote = "stricter"\n')

    _, out, _ = run("rules", "--rules", office, "--diff")
    assert "crop_bearing_share" in out and "stricter" in out
    advice = json.loads(run("advise", "S2", "--book", demo_book, *DAY, "--rules", office, "--json")[1])
    assert advice["step"] == "check_acorns"
    assert advice["rulebook_version"] != "2025.1"


def test_a_wrong_overlay_is_named(run, demo_book, tmp_path):
    (tmp_path / "o.toml").write_text("[crop]\nvalue = 1\n")

    status, _, err = run("advise", "S2", "--book", demo_book, "--rules", tmp_path / "o.toml")

    assert (status, "o.toml line 1" in err) == (1, True)


def test_a_day_that_is_none_is_misuse(run, demo_book):
    status, _, err = run("property", "--book", demo_book, "--on", "15.10.2025")

    assert (status, "2025-10-15" in err) == (2, True)


def test_a_fault_of_the_program_is_logged_not_shown(run, monkeypatch, tmp_path):
    from overwood.desk import answers

    monkeypatch.setattr(answers, "rules", lambda overlay: 1 / 0)

    status, _, err = run("rules")

    assert status == 70
    assert "Traceback" not in err
    assert "written down in" in err
    log = err.rsplit("written down in ", 1)[1].strip().rstrip(".")
    assert "ZeroDivisionError" in Path(log).read_text(encoding="utf-8")


def test_species_are_explained(run):
    assert "QUAL" in run("species", "WO")[1]
    status, _, err = run("species", "RO")
    assert (status, "northern red oak (833)" in err) == (1, True)
    assert run("sources", "sander1976")[1].startswith("sander1976: Sander")


def test_constraints_come_from_a_file_and_from_the_command(run, demo_book, tmp_path):
    file = tmp_path / "rows.txt"
    file.write_text("# of the owner\nspecies white oak 40-60\nedge north 20\n", encoding="utf-8")

    book = ("--book", demo_book, *DAY)
    asked = ("--constraints", file, "--row", "least dbh 11")

    status, out, _ = run("mark", "S2", "--moves", "2000", *asked, *book, "--json")

    told = json.loads(out)
    stays = [tree for tree in told["trees"] if tree["call"] == "leave"]
    area = sum(tree["dbh_in"] ** 2 for tree in stays)
    white = sum(tree["dbh_in"] ** 2 for tree in stays if tree["species"] == "white oak")
    assert status == 0
    assert 0.4 - 1e-9 <= white / area <= 0.6 + 1e-9
    assert min(tree["dbh_in"] for tree in stays) >= 11
    assert told["wants"]["shares"][0]["species"] == "white oak"
    status, _, err = run("mark", "S2", "--row", "keep the big ones", *book)
    assert status > 0
    assert "row 1, 'keep the big ones'" in err
    assert "no stem map" in run("mark", "S4", "--row", "spacing 20", *book)[2]


def test_a_marking_is_written_and_its_light_shown(run, demo_book, tmp_path):
    trees, sheet = tmp_path / "trees.csv", tmp_path / "sheet.pdf"

    status, out, _ = run("mark", "S2", "--moves", "300", "--trees", trees, "--sheet", sheet, "--book", demo_book, *DAY)

    assert status == 0
    assert "after the marking" in out
    assert "5 years on" in out
    assert "hung-up (lodged) tree" in out
    rows = trees.read_text(encoding="utf-8").splitlines()
    assert rows[0].startswith("stem,call,species,dbh_in")
    assert len(rows) == 306
    assert sheet.read_bytes().startswith(b"%PDF")


def test_what_even_light_costs_in_money_is_shown(run, demo_book, tmp_path):
    money = ("--prices", ROOT / "demo" / "prices.toml", "--trade-off", "value", "--spacing", "15", "--gpkg", tmp_path / "s.gpkg")

    status, out, _ = run("mark", "S2", "--moves", "300", *money, "--book", demo_book, *DAY)

    assert status == 0
    for words in ("sold, US$/ac", "Not an appraisal", "Bound:", "GeoPackage written", "logs assumed from dbh"):
        assert words in out
    assert (tmp_path / "s.gpkg").read_bytes().startswith(b"SQLite format 3")


def test_what_the_cut_left_is_judged_in_words(run, demo_book):
    status, out, _ = run("residual-check", "S3", "--book", demo_book, *DAY)

    assert status == 0
    for words in ("severely hurt", "at most 10", "Cautions"):
        assert words in out


def test_photos_are_read_drawn_over_and_written_as_readings(run, tmp_path):
    from PIL import Image

    grey = np.full((300, 300), 40, dtype=np.uint8)
    grey[100:200, 100:200] = 220
    Image.fromarray(grey).save(tmp_path / "7.jpg")
    out_files = ("--overlay", tmp_path / "o", "--readings", tmp_path / "r.csv", "--visit", "S2-L")

    status, out, _ = run("photo", tmp_path / "7.jpg", *out_files)

    assert status == 0
    assert "openness" in out
    assert (tmp_path / "o" / "7-sky.png").exists()
    assert (tmp_path / "r.csv").read_text(encoding="utf-8").splitlines()[1].startswith("S2-L,7,")
    assert json.loads(run("photo", tmp_path / "7.jpg", "--json")[1])[0]["reading"]["threshold"] > 40
    status, _, err = run("photo", tmp_path / "8.jpg")
    assert status == 2 and "does not exist" in err and "Errno" not in err
    assert run("photo", tmp_path / "7.jpg", "--readings", "x.csv")[0] == 2
    assert "write it as" in run("photo", tmp_path / "7.jpg", "--circle", "9")[2]


def test_a_refused_burn_says_so_and_writes_no_plan(run, demo_book, tmp_path):
    status, out, err = run("burn", "S7", "--book", demo_book, *DAY)

    assert status == 0
    assert "NOT FILLED IN" in out and "Never alone" in out
    assert "this burn is refused" in err
    assert run("burn", "S7", "--plan", tmp_path / "p.pdf", "--book", demo_book, *DAY)[0] == 2
    assert not (tmp_path / "p.pdf").exists()
    assert run("burn", "S7", "--plan", tmp_path / "p.pdf", "--override", "a trial", "--book", demo_book, *DAY)[0] == 0
    assert (tmp_path / "p.pdf").read_bytes().startswith(b"%PDF")


def test_burn_days_are_counted_drawn_and_put_in_a_calendar(run, demo_book, tmp_path):
    law = tmp_path / "law.toml"
    assert run("burn", "S7", "--new-law", law, "--book", demo_book, *DAY)[0] == 0
    files = ("--picture", tmp_path / "b.svg", "--ics", tmp_path / "b.ics", "--law", law)

    status, out, _ = run("burn", "S7", "--weather", ROOT / "demo" / "weather.csv", *files, "--book", demo_book, *DAY)

    assert status == 0
    assert "days a season" in out and "backing" in out
    assert (tmp_path / "b.svg").read_text().startswith("<svg")
    assert (tmp_path / "b.ics").read_bytes().startswith(b"BEGIN:VCALENDAR")
    assert run("burn", "S7", "--ics", tmp_path / "c.ics", "--book", demo_book, *DAY)[0] == 2
    assert "write it as wind=sknt" in run("burn", "S7", "--column", "wind", "--book", demo_book, *DAY)[2]


def test_an_injection_order_is_written(run, demo_book, tmp_path):
    status, out, _ = run("injection", "S1", "--order", tmp_path / "i.pdf", "--book", demo_book, *DAY)

    assert status == 0
    assert "The label of the product on site is the law" in out
    assert (tmp_path / "i.pdf").exists()


@pytest.mark.slow
def test_futures_are_told_in_frequencies_with_their_doubt(run, demo_book, tmp_path):
    asked = ("futures", "S1", "--futures", "200", "--sets", "20", "--book", demo_book, *DAY)
    status, out, _ = run(*asked, "--keep")

    assert status == 0
    for words in ("of 10", "never", "Who leads", "A bet, not a promise", "in the same futures", "what it turns on"):
        assert words in out
    # In metric units it is the same answer, and the paper bears its name.
    assert run(*asked, "--metric", "--forecast", tmp_path / "f.pdf")[0] == 0
    paper = " ".join(" ".join(pdf_text.pages((tmp_path / "f.pdf").read_bytes())).split())
    assert "Answer 1 (futures), digest" in paper


@pytest.mark.slow
def test_counts_are_set_beside_the_forecast_in_words(run, demo_book):
    status, out, _ = run("watch", "S3", "--draws", "400", "--alone", "--book", demo_book, *DAY)

    assert status == 0
    for words in (
        "on course",
        "What the counts teach",
        "gate open, before",
        "What to do",
        "draws carry the answer",
        "another seed moves no chance",
    ):
        assert words in out
    assert run("watch", "S1", "--book", demo_book, *DAY)[0] == 1


def test_a_rule_is_given_where_there_is_no_map(run, demo_book, tmp_path):
    status, out, _ = run("mark", "S4", "--sheet", tmp_path / "r.pdf", "--book", demo_book, *DAY)

    assert status == 0
    assert "has no stem map" in out
    assert "Take, in this order" in out
    assert (tmp_path / "r.pdf").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("mark", "S4", "--trees", "t.csv"), "no stem map"),
        (("mark", "S2", "--light", "50-30"), "write it as 30-50"),
        (("mark", "S2", "--ba", "200-300"), "may stay"),
        (("light", "S4", "--picture", "l.svg"), "no stem map to draw"),
    ],
)
def test_a_marking_that_cannot_be_is_refused_with_words(run, demo_book, words, said):
    status, _, err = run(*words, "--book", demo_book, *DAY)

    assert status == 2
    assert said in err


def test_a_file_whose_folder_is_not_there_is_refused_before_any_work(run, demo_book):
    status, _, err = run("mark", "S1", "--trees", "nosuch/x.csv", "--book", demo_book, *DAY)

    assert status == 2
    assert "the folder nosuch is not there; make it, or name another" in err


def test_any_other_file_that_cannot_be_written_is_told_without_a_fault_of_the_program(run, demo_book):
    status, _, err = run("due", "--ics", "nosuch/due.ics", "--book", demo_book, *DAY)

    assert status == 1
    assert "the folder nosuch is not there, so due.ics cannot be written" in err


def test_a_figure_is_offered_by_its_beginning_and_never_from_far_away(run, demo_book):
    _, _, near = run("why", "S3", "ba", "--book", demo_book, *DAY)
    _, _, far = run("why", "S3", "nosuch", "--book", demo_book, *DAY)

    assert "The nearest is 'ba_ft2_ac'" in near
    assert "nearest" not in far and "overwood evidence S3" in far


def test_capitals_of_a_stands_name_do_not_matter(run, demo_book):
    assert run("evidence", "s3", "--book", demo_book, *DAY) == run("evidence", "S3", "--book", demo_book, *DAY)


def test_a_decision_for_a_stand_in_small_letters_is_kept_with_the_stand(run, demo_book):
    status, _, err = run("decide", "s3", "wait", "--because", "no crew", "--by", "forester", "--book", demo_book, *DAY)

    assert status == 0, err
    from overwood.memory.book import store

    assert [row.stand for row in store.records("decisions") if row.reason == "no crew"] == ["S3"]


@pytest.mark.parametrize("kind", ["gpkg", "zip", "geojson", "kml", "kmz", "gpx", "wkt"])
def test_outlines_go_out_and_come_in_by_the_command(run, demo_book, tmp_path, read_here, kind):
    path = tmp_path / f"stands.{kind}"
    assert run("outlines", "--out", path, "--only", "S1", "--only", "S3", "--book", demo_book)[0] == 0

    status, out, _ = run("outlines", path, "--area", "record", "--book", demo_book)
    assert status == 0
    assert "Nothing was written. Add --yes to write it." in out
    status, out, _ = run("outlines", path, "--area", "record", "--yes", "--json", "--book", demo_book)
    assert [one["stand"] for one in json.loads(out)["outlines"]] == ["S1", "S3"]


def test_outlines_name_one_thing_to_do(run, demo_book):
    status, _, err = run("outlines", "--book", demo_book)

    assert status == 2
    assert "Name a file of outlines to bring in, or write the book's with --out FILE." in err
