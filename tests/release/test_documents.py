"""Documents say what the program does: the first day runs as printed, limits are the program's, lines of deployment are explained."""

from __future__ import annotations

import re
import shlex
import subprocess
from urllib.parse import quote

import pytest

from conftest import DOCS, ROOT

LONGEST_SENTENCE = 35
PAGES = (*sorted(DOCS.glob("*.md")), ROOT / "README.md", ROOT / "CONTRIBUTING.md")


def _sentences(text):
    """Sentences of running text: without code, tables, headings and what stands in brackets as an address."""
    text = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
    lines = [line for line in text.splitlines() if not line.startswith(("    ", "|", "#", "!"))]
    blocks = re.split(r"\n\s*\n|\n(?=[-*\d] |\d+\.)", "\n".join(lines))
    plain = (re.sub(r"\]\([^)]*\)", "]", re.sub(r"`[^`]*`", "code", block)) for block in blocks)
    return [one for block in plain for one in re.split(r"(?<=[.!?:;])\s+", " ".join(block.split())) if one]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_no_sentence_is_longer_than_a_breath(page):
    long = [one for one in _sentences(page.read_text(encoding="utf-8")) if len(one.split()) > LONGEST_SENTENCE]

    assert long == []


def _blocks(page):
    """Indented blocks of a page, in their order."""
    text = (DOCS / page).read_text(encoding="utf-8")
    return [re.sub(r"^ {4}", "", block, flags=re.MULTILINE) for block in re.findall(r"(?:^ {4}.+\n)+", text, flags=re.MULTILINE)]


@pytest.mark.slow
def test_the_first_day_runs_as_printed(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("OVERWOOD_BOOK", str(tmp_path / "book.sqlite3"))
    names, said = iter(("land.csv", "cruise.csv", "floor.csv")), {}
    for block in _blocks("first_day.md"):
        if not block.startswith("overwood "):
            (tmp_path / next(names)).write_text(block, encoding="utf-8")
            continue
        for line in block.splitlines():
            if line == "overwood desk":
                continue
            status, out, err = run(*shlex.split(line)[1:])
            assert status == 0, (line, out, err)
            said[line] = out
    cruise = next(out for line, out in said.items() if line.startswith("overwood import cruise.csv --yes"))
    # 11 trees of a 20-factor prism over 4 points.
    assert f"{11 * 20 / 4} ft2/ac" in cruise
    assert "4 points, 11 stems" in cruise
    advice = next(out for line, out in said.items() if " advise " in line)
    assert "Add plots (30 in all; 4 now)" in advice and "has 4 points; at least 30 are wanted" in advice
    # What is printed to be typed can be typed: the stand's name has a space.
    named = [shlex.split(line)[1:] for line in re.findall(r"`(overwood [^`]+)`", advice)]
    assert len(named) == 2
    for words in named:
        assert run(*("ba_ft2_ac" if word == "NAME" else word for word in words))[0] == 0, words
    assert (tmp_path / "Ridge 4-brief.pdf").read_bytes().startswith(b"%PDF")


def _limits():
    rows = re.findall(r"^\| ([^|]+) \| ([^|]+) \|$", (DOCS / "limits.md").read_text(encoding="utf-8"), flags=re.MULTILINE)
    return dict(rows[1:])


def test_limits_are_those_of_the_program():
    from overwood.desk import account, log_in, office, work
    from overwood.faces.pages import front, papers
    from overwood.faces.served import serving
    from overwood.memory.exchange import apart, pictures, proposing, reading, workbooks
    from overwood.memory.exchange.outlines import shapes

    listed = _limits()
    listed.pop("---", None)
    assert workbooks.MOST_UNPACKED == reading.MOST_BYTES
    assert listed == {
        "one file sent in the browser": f"{serving.MOST_UPLOAD_BYTES // 2**20} MB",
        "a request without a log-in": f"{front.STRANGER_BYTES // 2**10} KB",
        "a workbook, a zip file, unpacked": f"{reading.MOST_BYTES / 1e6:.0f} MB",
        "memory of the process that reads a workbook (not on Windows)": f"{workbooks.LIMITS.memory / 1e6:,.0f} MB",
        "memory of the process that reads outlines or a photo (not on Windows)": f"{apart.Limits().memory / 1e6:,.0f} MB",
        "pixels of a photo": f"{pictures.MOST_PIXELS:,}",
        "members of a zip file": f"{reading.MOST_MEMBERS}",
        "lines of text in one file": f"{reading.MOST_LINES:,}",
        "rows of sheets with headings of their own in one file": f"{proposing.MOST_ROWS:,}",
        "faults kept of one file, before it is given up": f"{account.MOST_FAULTS:,}",
        "a file of outlines, unpacked": f"{shapes.MOST_UNPACKED // 2**20} MB",
        "outlines in one file": f"{shapes.MOST_SHAPES:,}",
        "futures asked for by the API": "20,000",
        "papers printed at once: of one person, of all": f"{papers.MOST_OF_ONE}, {papers.MOST_AT_ONCE}",
        "long work under way: of one person, of all": f"{work.MOST_OF_ONE}, {work.MOST_AT_ONCE}",
        "log-ins that fail before a wait: of a name, of an address": f"{serving.FAILED_LOGINS}, {serving.FAILED_FROM_ADDRESS}",
        "days a token of the API lasts": f"{office.MOST_TOKEN_DAYS}",
        "hours an invitation lasts": f"{log_in.LINK_HOURS}",
    }


def test_every_line_of_the_service_and_the_container_is_explained():
    page = (DOCS / "install_office.md").read_text(encoding="utf-8")
    service, container = page.split("## As a container")
    unit = (ROOT / "deploy" / "overwood.service").read_text(encoding="utf-8")
    set_in_unit = set(re.findall(r"^(\w+)=", unit, flags=re.MULTILINE)) - {"Description", "WorkingDirectory"}
    built = (ROOT / "deploy" / "Containerfile").read_text(encoding="utf-8")
    used = set(re.findall(r"^([A-Z]+) ", built, flags=re.MULTILINE)) - {"WORKDIR"}

    assert {name for name in set_in_unit if name not in service} == set()
    assert {name for name in used if name not in container} == set()


@pytest.mark.slow
def test_a_dump_of_an_office_database_brings_the_book_back(postgres, monkeypatch, tmp_path, run):
    """The lines of the page on keeping: pg_dump, createdb, pg_restore."""
    admin = ["runuser", "-u", "postgres", "--", "psql", "-q", "-h", str(postgres), "-d", "postgres", "-c"]
    base = f"postgresql://postgres@{quote(str(postgres), safe='')}/"
    for name in ("office", "drill"):
        subprocess.run([*admin, f"create database {name}"], check=True, cwd="/")
    (tmp_path / "land.csv").write_text("stand,property,area_ac\nRidge 4,Home,22\n", encoding="utf-8")
    monkeypatch.setenv("DATABASE_URL", base + "office")
    assert run("import", tmp_path / "land.csv", "--yes")[0] == 0
    before = run("property", "--json")[1]

    dump = postgres / "office.dump"
    server = ["runuser", "-u", "postgres", "--"]
    subprocess.run([*server, "pg_dump", "--format=custom", f"--file={dump}", base + "office"], check=True, cwd="/")
    subprocess.run([*server, "pg_restore", "--exit-on-error", f"--dbname={base}drill", str(dump)], check=True, cwd="/")
    monkeypatch.setenv("DATABASE_URL", base + "drill")

    assert '"Ridge 4"' in before
    assert run("property", "--json")[1] == before


def test_every_page_of_the_docs_is_reached_from_the_first():
    seen, waits = set(), ["index.md"]
    while waits:
        page = waits.pop()
        if page not in seen:
            seen.add(page)
            waits += re.findall(r"\]\(([\w/]+\.md)", (DOCS / page).read_text(encoding="utf-8"))
    assert {page.name for page in DOCS.glob("*.md")} <= seen


@pytest.mark.parametrize("stale", ["come with the fire room", "independent prototype", "before this program", "odds are not simulated"])
def test_no_page_tells_of_what_is_no_more(stale):
    assert [page.name for page in PAGES if stale in " ".join(page.read_text(encoding="utf-8").split())] == []


def test_the_package_says_what_it_is_and_the_changes_name_its_version():
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pythons = {line.rpartition(" ")[2] for line in project["classifiers"] if re.search(r":: 3\.\d+$", line)}
    least, most = re.fullmatch(r">=3\.(\d+),<3\.(\d+)", project["requires-python"]).groups()
    assert pythons == {f"3.{minor}" for minor in range(int(least), int(most))}
    assert project["readme"] == "README.md" and project["license"] == "MIT" and project["keywords"]
    assert f"## {project['version']}" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
