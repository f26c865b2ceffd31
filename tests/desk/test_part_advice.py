"""Many stands from parquet parts: the advice of the book, the same bytes however it is worked out, faults said and nothing lost."""

from __future__ import annotations

import dataclasses
import datetime as dt
import shutil

import polars as pl
import pytest

from conftest import DEMO_DAY
from overwood.desk import answers, kept, part_advice, part_forecasts, part_screen, part_tasks
from overwood.desk.question import question
from overwood.ground.errors import BadRecords, NotFound, OverwoodError
from overwood.ground.records import TABLES
from overwood.judgement.course import advise
from overwood.judgement.course.outlook import Outlook
from overwood.memory.exchange import parts

ASK = part_advice.Ask(DEMO_DAY, None, None)
# Columns whose names are a property's own: a second property needs others.
_NAMES = ("property", "stand", "visit", "operation", "decision", "sighting")


@pytest.fixture(scope="module")
def demo_part(demo_book_file, tmp_path_factory):
    """The demo property written from its book as one part."""
    from overwood.desk import session

    folder = tmp_path_factory.mktemp("region")
    book = shutil.copy(demo_book_file, folder / "book.sqlite3")
    session.open_book(book)
    part_advice.from_book(folder, 500)
    session.close()
    return parts.parts_of(folder / part_advice.PARTS)[0]


@pytest.fixture
def folder(demo_part, tmp_path):
    """Three properties with two stands of the demo's each, a part each."""
    target = tmp_path / "region"
    for letter in "abc":
        place = target / part_advice.PARTS / letter
        place.mkdir(parents=True)
        for file in demo_part.glob("*.parquet"):
            frame = pl.read_parquet(file)
            frame = frame.with_columns((pl.lit(letter) + pl.col(n)).alias(n) for n in _NAMES if n in frame.columns)
            _keep_two(frame, file.stem, letter).write_parquet(place / file.name)
    return target


def _keep_two(frame, table, letter):
    """Rows of two stands, which are quicker than eight."""
    kept = [f"{letter}{name}" for name in ("S1", "S2")]
    if "stand" in frame.columns:
        return frame.filter(pl.col("stand").is_in(kept))
    if "visit" in frame.columns:
        return frame.filter(pl.col("visit").str.contains("|".join(f"^{name}\\b" for name in kept)))
    return frame


def _results(folder):
    return {file.name: file.read_bytes() for file in sorted(folder.glob("advice-*/*")) if file.suffix != ".half"}


def _spoiled(folder, part, table, **cells):
    """One cell of the first row of a table, overwritten."""
    file = folder / part_advice.PARTS / part / f"{table}.parquet"
    frame = pl.read_parquet(file).with_row_index("at")
    for name, value in cells.items():
        first = pl.when(pl.col("at") == 0).then(pl.lit(value)).otherwise(pl.col(name).cast(pl.String))
        frame = frame.with_columns(first.alias(name))
    frame.drop("at").write_parquet(file)


def _without_rows(advice):
    """Advice but for its figures, which name the rows they rest on."""
    return {field.name: getattr(advice, field.name) for field in dataclasses.fields(advice) if field.name != "figures"}


@pytest.mark.slow
def test_advice_from_parts_is_that_of_the_book_they_were_written_from(demo_part, demo_book, ask):
    files = parts.files_of(parts.frames(demo_part, DEMO_DAY))
    by_parts = {name: advise(file, ask.rules, ask.on) for name, file in files.items()}
    by_book = {one.stand: one for one in answers.property_advice(ask)}
    assert by_parts.keys() == by_book.keys()
    for name, advice in by_book.items():
        assert _without_rows(by_parts[name]) == _without_rows(advice), name
        for figure, value in advice.figures.items():
            other = by_parts[name].figures[figure]
            assert repr((other.value, other.low, other.high, other.n)) == repr((value.value, value.low, value.high, value.n)), figure


@pytest.mark.slow
def test_the_table_of_results_says_what_the_advice_says(demo_part, ask, tmp_path):
    target = tmp_path / "one.parquet"
    assert part_advice.judge_part(part_advice.Task(demo_part, target, ASK)) == ""
    rows = {row["stand"]: row for row in pl.read_parquet(target).iter_rows(named=True)}
    for name, file in parts.files_of(parts.frames(demo_part, DEMO_DAY)).items():
        advice = advise(file, ask.rules, ask.on)
        row = rows.pop(name)
        said = (advice.step, advice.work, advice.title, advice.firm.of_ten)
        assert (row["step"], row["work"], row["next_step"], row["how_firm"]) == said
        assert [row[f"gate_{gate.name.replace(' ', '_')}"] for gate in advice.gates] == [gate.answer for gate in advice.gates]
    assert not rows


def _hopeless(stand, rules, number=7, courses=""):
    """A kept forecast by which no course leads to an oak stand."""
    said = {"answer": number, "course": "injection alone", "others": ("red maple",), "age_yr": 20}
    chances = {"oak_stand_chance": 0.05, "oak_stand_error": 0.01, "oak_part_chance": 0.3}
    outlook = Outlook(made_on=DEMO_DAY, **said, **chances)
    return kept.Forecast(stand=stand, answer=number, made_on=DEMO_DAY, rules_version=rules.version, courses=courses, outlook=outlook)


def test_kept_futures_go_along_and_change_the_step_as_in_the_book(folder, ask, monkeypatch, tmp_path):
    part = folder / part_advice.PARTS / "a"
    alone = parts.digest(part, part_forecasts.FILE)
    told = {"aS1": (_hopeless("aS1", ask.rules, courses="own.toml"), _hopeless("aS1", ask.rules))}
    monkeypatch.setattr(kept, "forecasts", lambda stand: told.get(stand, ()))
    part_forecasts.write(part)

    part_advice.judge_part(part_advice.Task(part, tmp_path / "a.parquet", ASK))

    steps = dict(pl.read_parquet(tmp_path / "a.parquet").select("stand", "step").iter_rows())
    assert steps == {"aS1": "weigh", "aS2": "seed_cut"}
    assert parts.digest(part, part_forecasts.FILE) != alone
    heard = kept.heard(part_forecasts.read(part)["aS1"], ask)
    assert heard["outlook"] == told["aS1"][1].outlook
    assert heard["unread"] == ()
    assert [doubt.code for doubt in kept.heard(told["aS1"][:1], ask)["unread"]] == ["forecast_of_own_courses"]


def test_kept_futures_of_other_records_are_not_read(folder, ask, monkeypatch):
    part = folder / part_advice.PARTS / "a"
    monkeypatch.setattr(kept, "forecasts", lambda stand: (_hopeless(stand, ask.rules),))
    part_forecasts.write(part)
    assert set(part_forecasts.read(part)) == {"aS1", "aS2"}

    _spoiled(folder, "a", "stands", area_ac="12.5")

    assert part_forecasts.read(part) == {}
    (part / part_forecasts.FILE).write_text("{", encoding="utf-8")
    with pytest.raises(BadRecords, match=r"a/forecasts\.json"):
        part_forecasts.read(part)


@pytest.mark.slow
def test_two_processes_write_the_bytes_of_one_and_a_restart_works_out_only_what_lacks(folder):
    whole = part_advice.run(folder, ASK)
    alone = _results(folder)
    assert (whole.parts, whole.parts_now, whole.stands, whole.refused) == (3, 3, 6, ())
    for lost in sorted(folder.glob("advice-*/*.parquet"))[:2]:
        # What a worker leaves that was killed while it wrote.
        lost.rename(lost.with_suffix(".1.half"))
    again = part_advice.run(folder, ASK, part_advice.Hands(2))
    assert again.parts_now == 2
    assert _results(folder) == alone
    assert part_advice.run(folder, ASK).parts_now == 0


@pytest.mark.slow
def test_a_part_that_changed_is_judged_anew_and_its_old_result_goes(folder):
    part_advice.run(folder, ASK)
    before = _results(folder)
    _spoiled(folder, "b", "stands", name="Another name")
    assert part_advice.run(folder, ASK).parts_now == 1
    after = _results(folder)
    assert len(after) == len(before)
    assert len(before.keys() - after.keys()) == 1


def test_other_rules_or_another_day_are_other_results(folder):
    overlay = folder / "office.toml"
    overlay.write_text("[several_hundred_ac]\nvalue = 420\nnote = 'tried'\n", encoding="utf-8")
    asks = (ASK, dataclasses.replace(ASK, overlay=overlay), dataclasses.replace(ASK, on=DEMO_DAY.replace(day=16)))
    assert len({part_tasks.mark_of(one) for one in asks}) == 3


@pytest.mark.parametrize(
    ("table", "cells", "words"),
    [
        ("trees", {"dbh_in": "-4"}, ("trees.parquet, row 1, column dbh_in", "'-4'", "from")),
        ("visits", {"stand": "bS9"}, ("visits.parquet, row 1", "bS9 is not in stands")),
        ("stands", {"stand": "bS2"}, ("stands.parquet", "bS2 stands in rows 1, 2")),
    ],
)
def test_a_part_at_fault_is_named_with_its_place_and_the_others_are_judged(folder, table, cells, words):
    _spoiled(folder, "b", table, **cells)
    standing = part_advice.run(folder, ASK)
    assert standing.stands == 4
    (fault,) = standing.refused
    for word in words:
        assert word in fault


def test_a_column_nobody_knows_is_refused_with_its_nearest(folder):
    file = folder / part_advice.PARTS / "c" / "trees.parquet"
    pl.read_parquet(file).rename({"dbh_in": "dbh_inch"}).write_parquet(file)
    (fault,) = part_advice.run(folder, ASK).refused
    assert "'dbh_inch' is no column of trees" in fault
    assert "'dbh_in'" in fault


def test_a_property_in_two_parts_is_refused_for_its_acorn_checks_would_be_halved(folder):
    for letter in "bc":
        file = folder / part_advice.PARTS / letter / "stands.parquet"
        pl.read_parquet(file).with_columns(property=pl.lit("shared")).write_parquet(file)
    with pytest.raises(BadRecords, match="property 'shared' lies in b and in c"):
        part_advice.run(folder, ASK)
    assert not _results(folder)


def test_a_folder_without_parts_says_where_they_go(tmp_path):
    with pytest.raises(NotFound, match="holds no parts"):
        part_advice.run(tmp_path, ASK)


def test_parts_are_never_written_over(demo_part, demo_book):
    with pytest.raises(OverwoodError, match="holds parts already"):
        part_advice.from_book(demo_part.parent.parent, 500)


def test_properties_come_to_parts_by_their_names_alone(tmp_path):
    columns = list(TABLES["stands"].columns)
    rows = [tuple({"stand": f"s{n}", "property": f"p{n % 7}"}.get(name) for name in columns) for n in range(70)]
    assert parts.write(tmp_path / "one", {"stands": rows}, 20) > 1
    parts.write(tmp_path / "other", {"stands": rows[::-1]}, 20)
    whole = [parts.owners(part).rows() for part in parts.parts_of(tmp_path / "one")]
    assert [sorted(part) for part in whole] == [sorted(parts.owners(part).rows()) for part in parts.parts_of(tmp_path / "other")]
    owners = [{owner for _, owner in part} for part in whole]
    assert sum(map(len, owners)) == len(set().union(*owners)) == 7


def test_the_command_writes_parts_judges_them_and_counts_steps(run, demo_book, tmp_path):
    words = ("region", tmp_path / "r", "--book", demo_book, "--on", DEMO_DAY)
    status, out, _ = run(*words, "--from-book")
    assert (status, "8 stands in 1 parts, 1 of them worked out now" in out) == (0, True)
    assert "Inject the midstory" in out and "release_stems" not in out
    status, out, _ = run(*words, "--maps")
    assert (status, out.count("0 of them worked out now")) == (0, 2)
    # Every stand by columns, and the full advice of those that want it alone.
    [results], [wanted] = ((tmp_path / "r").glob(f"{look}-*") for look in ("screen", "wanted"))
    assert 0 < pl.read_parquet(f"{wanted}/*.parquet").height < pl.read_parquet(f"{results}/*.parquet").height == 8
    assert {"maps.html", "outlines.pmtiles", "steps.csv"} < {file.name for file in results.iterdir()}
    assert run(*words, "--maps", "--look", "wanted")[0] == 2


def test_a_stand_of_the_demo_is_the_same_by_columns_at_every_stage_of_its_history(demo_part, ask):
    found = parts.frames(demo_part, dt.date(2025, 12, 31))
    files = parts.files_of(found)
    for on in (dt.date(2018, 10, 1), dt.date(2021, 10, 1), dt.date(2024, 3, 1), dt.date(2025, 10, 15)):
        screen = part_screen.screened(found, question(on, None), set())
        for place, name in enumerate(screen.stands["stand"].to_list()):
            if name not in screen.not_plain:
                assert screen.found.standings.branch[place] == advise(files[name], ask.rules, on).branch, (name, on)
        assert len(screen.not_plain) < 2
