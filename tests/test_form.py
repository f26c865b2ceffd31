"""What no reader can keep checked by eye: docstrings against signatures, constants against the bibliography, names."""

from __future__ import annotations

import ast
import csv
import importlib
import inspect
import pkgutil
import re

import pytest

import overwood
from conftest import ROOT
from overwood.ground import sources, species, tables

SCIENCE = (
    "survey",
    "sample_size",
    "sequential",
    "comparison",
    "overstory",
    "reproduction",
    "acorns",
    "light.curve",
    "light.sky",
    "light.crowns",
    "light.field",
    "light.shadow",
    "light.raster",
    "light.photo",
    "light.ledger",
    "light.apart",
    "timber.logs",
    "timber.trees",
    "timber.wood",
    "fire.spread",
    "fire.moisture",
    "fire.trees",
    "canopy.crowns",
    "canopy.gaps",
    "canopy.tops",
    "injection",
    "regeneration.processes",
    "regeneration.shapes",
    "regeneration.year",
    "regeneration.floor",
    "regeneration.luck",
    "regeneration.course",
    "regeneration.pool",
    "decisions",
    "growth",
    "money",
)


def _functions():
    for name in SCIENCE:
        module = importlib.import_module(f"overwood.science.{name}")
        for title, function in inspect.getmembers(module, inspect.isfunction):
            if function.__module__ == module.__name__ and not title.startswith("_"):
                yield pytest.param(function, id=f"{name}.{title}")


def _section(doc: str, title: str) -> str:
    found = re.search(rf"\n{title}\n-+\n(.*?)(?=\n[A-Z][a-z]+\n-+\n|\Z)", doc, flags=re.DOTALL)
    return found.group(1) if found else ""


@pytest.mark.parametrize("function", list(_functions()))
def test_a_science_docstring_says_what_goes_in_and_what_comes_out(function):
    if function.__name__ == "first_true":
        return
    doc = inspect.getdoc(function) or ""
    named = [
        name for line in re.findall(r"^([a-z][\w, ]*) :", _section(doc, "Parameters"), flags=re.MULTILINE) for name in line.split(", ")
    ]

    assert named == list(inspect.signature(function).parameters)
    assert _section(doc, "Returns")
    assert doc.splitlines()[0].endswith(".")


@pytest.mark.parametrize("function", list(_functions()))
def test_a_source_named_in_a_docstring_is_in_the_bibliography(function):
    for key in re.findall(r"``([a-z_]+(?:\d{4})?)``", _section(inspect.getdoc(function) or "", "Notes")):
        assert key in sources.all_sources(), key


@pytest.mark.parametrize("name", tables.table_names())
def test_every_constant_names_a_known_source_and_status(name):
    rows = tables.rows(name)
    assert rows
    for row in rows:
        assert row["source"] in sources.all_sources(), (name, row)
        assert row["status"] in tables.STATUSES, (name, row)
        low, high, value = (row.get(key) for key in ("low", "high", "value"))
        if low and high and value:
            assert float(low) <= float(value) <= float(high)


def test_no_number_with_a_decimal_point_hides_in_judgement():
    # Thresholds and parameters belong to the rulebook and the assumptions; exact factors and formats are listed here.
    allowed = {0.0, 1.0, 0.5, 2.0, 100.0, 365.25, 1e6, 0.05, 3.0, 4.5, 1e-9, 1e-6, 1e-4, 1e-3, 1e9, 1e-300}
    more = {
        "days.py": {10.0},  # the hours of ten-hour fuel
        "courses.py": {60.0},  # stands in a cut by site until the stand is known
        "learning.py": {1.05},  # a little beyond a reach, so that like draws weigh alike
        "fit.py": {10.0},  # as far as the fit looks
        "net_ground.py": {0.1},  # acres below which another digit is shown
        "spaces.py": {0.1},  # plots of nearly a space's size; the least height, ft
    }
    for file in sorted((ROOT / "src/overwood/judgement").rglob("*.py")):
        numbers = {node.value for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))) if _is_decimal(node)}
        assert numbers <= allowed | more.get(file.name, set()), (file.name, numbers - allowed)


def _is_decimal(node):
    return isinstance(node, ast.Constant) and isinstance(node.value, float)


def test_there_are_enough_species_with_every_field():
    known = species.all_species()

    assert len([s for s in known.values() if s.spcd not in (800, 400, 310, 540, 970, 999)]) >= 45
    for entry in known.values():
        assert entry.symbol and entry.common_name and entry.scientific_name and entry.sprouting
        assert entry.tolerance in ("very intolerant", "intolerant", "intermediate", "tolerant", "very tolerant")
    names = [alias for entry in known.values() for alias in entry.aliases]
    assert len(names) == len(set(names))
    assert not {species.normal(name) for name in names} & set(species.AMBIGUOUS)


# What Django loads by itself, once the apps of an office are set up.
_LOADED_BY_DJANGO = ("overwood.memory.book.password_backend",)


def test_every_module_can_be_imported():
    for module in pkgutil.walk_packages(overwood.__path__, "overwood."):
        if ".migrations" not in module.name and module.name not in ("overwood.__main__", *_LOADED_BY_DJANGO):
            importlib.import_module(module.name)


def test_files_stay_small_enough_to_hold_in_the_head():
    for file in (ROOT / "src").rglob("*.py"):
        if "migrations" not in file.parts:
            assert len(file.read_text(encoding="utf-8").splitlines()) <= 500, file


def test_faces_make_no_json_of_their_own():
    for file in (ROOT / "src/overwood/faces").rglob("*.py"):
        assert not re.search(r"\basdict\(|\[vars\(", file.read_text(encoding="utf-8")), f"{file}: use telling.plain"


def test_published_check_tables_are_well_formed():
    for file in (ROOT / "tests/published").glob("*.csv"):
        with file.open(encoding="utf-8", newline="") as stream:
            rows = list(csv.DictReader(stream))
        assert rows
        assert all(row["source"] and row["status"] for row in rows)


def test_notes_of_tests_name_a_publication_and_no_paper_that_is_not_here():
    elsewhere = re.compile(r"\bchecks? [A-Z]+\d|\b(?:fire|practice|mensuration) check\b|\.md section", re.IGNORECASE)
    for kind in ("*.py", "*.csv"):
        for file in (ROOT / "tests").rglob(kind):
            found = elsewhere.search(file.read_text(encoding="utf-8"))
            assert found is None or file.name == "test_form.py", (file, found[0])


def test_nothing_committed_names_a_host_or_a_machine():
    hosts = re.compile(r"files\.pythonhosted\.org|registry\.npmjs\.org|pypi\.org/simple|/root/|/home/[a-z]|/work/")
    for name in (
        "pyproject.toml",
        "Makefile",
        "requirements/run.txt",
        "requirements/office.txt",
        "requirements/test.txt",
        "requirements/docs.txt",
        ".npmrc",
        "README.md",
    ):
        assert not hosts.search((ROOT / name).read_text(encoding="utf-8")), name
    assert not (ROOT / "uv.lock").exists()


# What a process holds in modules: the desk of a server process, the folder of the region in force (set before anything is read), and
# which answer has which name in the API. The compiler's own setting is put back at once.
_HELD = {
    "faces/pages/asking.py": {"DESK"},
    "ground/tables.py": {"_REGION"},
    "faces/telling/__init__.py": {"_NAMED"},
    "science/compiling.py": {"_COMPILER"},
}
_CHANGES = {"add", "append", "clear", "discard", "extend", "insert", "move_to_end", "pop", "popitem", "remove", "setdefault", "update"}


def _changed(tree):
    """Names of a module that something in it changes: by item, by attribute, by a call that changes its object, or by `global`."""
    of_module = {
        target.id
        for node in tree.body
        if isinstance(node, (ast.Assign, ast.AnnAssign))
        for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
        if isinstance(target, ast.Name)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Global):
            yield from node.names
        inner = None
        if isinstance(node, (ast.Subscript, ast.Attribute)) and not isinstance(node.ctx, ast.Load):
            inner = node.value
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in _CHANGES:
            inner = node.func.value
        while isinstance(inner, (ast.Subscript, ast.Attribute)):
            inner = inner.value
        if isinstance(inner, ast.Name) and inner.id in of_module:
            yield inner.id


def test_no_module_keeps_what_changes():
    # What would differ from one server process to another lies in the book, or is keyed by all it rests on (`served/memo`).
    source = ROOT / "src/overwood"
    found = {
        file.relative_to(source).as_posix(): names
        for file in source.rglob("*.py")
        if (names := set(_changed(ast.parse(file.read_text(encoding="utf-8")))))
    }
    assert found == _HELD


def test_every_fault_found_by_trying_is_held_by_a_test_that_is_there():
    with (ROOT / "tests" / "reproducers.csv").open(encoding="utf-8", newline="") as stream:
        held = [(row["number"], *row["test"].split("::")) for row in csv.DictReader(stream)]

    lost = [one for one in held if f"def {one[2]}(" not in (ROOT / "tests" / one[1]).read_text(encoding="utf-8")]
    assert lost == []
    assert {number for number, *_ in held} == {f"R{number}" for number in range(1, 61)}
