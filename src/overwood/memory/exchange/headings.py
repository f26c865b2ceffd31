"""Headings of foreign sheets: which column of which table each one is, and the unit it names.

Nothing is decided about the values below a heading here, but for telling a table of plots from a tally.
"""

from __future__ import annotations

import difflib
import functools
import hashlib
import re
from collections.abc import Mapping, Sequence

from overwood.ground.tables import rows

# Headings beyond these are not matched: no tally has more, and matching must stay linear.
MOST_HEADINGS = 300
_SHORTEST_GUESSED = 4
_NEARNESS = 0.85
_WORD_NEARNESS = 0.7
UNIT_WORDS = {
    "cm": "cm", "cms": "cm", "centimeters": "cm", "centimetres": "cm", "mm": "mm", "millimeters": "mm", "m": "m",
    "meters": "m", "metres": "m", "meter": "m", "ft": "ft", "feet": "ft", "foot": "ft", "'": "ft", "in": "in",
    "ins": "in", "inch": "in", "inches": "in", '"': "in", "ha": "ha", "hectares": "ha", "ac": "ac", "acre": "ac",
    "acres": "ac", "pct": "%", "percent": "%", "%": "%", "m2": "m2", "sq m": "m2", "sqm": "m2", "m²": "m2",
    "ft2": "ft2", "sq ft": "ft2", "sqft": "ft2", "ft²": "ft2", "m2/ha": "m2/ha", "m²/ha": "m2/ha",
    "ft2/ac": "ft2/ac", "ft²/ac": "ft2/ac", "sq ft/ac": "ft2/ac", "yd": "yd", "chain": "chain", "chains": "chain",
}  # fmt: skip
_HALF_LOGS = re.compile(
    r"\b(?:8\s*-?\s*(?:ft|foot|')\s*|half[\s-]*)logs?\b|\blogs?\s*[(\[,]?\s*8\s*-?\s*(?:ft|foot|')\s*[)\]]?",
    re.IGNORECASE,
)
# Whole numbers of tenths of an inch, or inches to the nearest tenth: the values tell, or a person does.
_TENTHS = re.compile(r"\b(?:to |nearest )*(?:0?\.1|1/10(?:th)?|tenths?)[\s-]*(?:of )?(?:an )?in(?:ch(?:es)?)?\b\.?")
# The mark of a unit behind a heading: DBH", Ht'.
_MARKED = re.compile(r"(?<=[a-z])\s*(''|[\"\u2033\u201d]|['\u2032\u2019])\s*$")
# Acorns counted for so many seconds: Acorns in 30 s, 30-sec acorn count.
_TIMED = re.compile(
    r"^\s*(?:no\.? of )?acorns?\b\D*(\d+)\s*-?\s*s(?:ec(?:onds?)?)?\b.*$"
    r"|^\s*(\d+)\s*-?\s*s(?:ec(?:ond)?)?\b.*\b(?:acorns?|count)\b.*$"
)
# Amounts an acre that a sheet is right to hold: how stems were taken in.
_PER_AREA = ("baf_ft2_ac",)
_COUNTS = ("stems", "browsed", "acorns", "edge_count", "logs")
DEFINING = {
    "trees": {"dbh_in", "species"},
    "seedlings": {"species", "stems", "height_class", "height_ft"},
    "acorn_trees": {"species", "bearing", "acorns"},
    "stems": {"species", "dbh_in", "azimuth_deg", "distance_ft", "east_ft", "north_ft"},
    "points": {"point", "longitude_deg", "latitude_deg", "fenced", "note", "stratum", "in_stand"},
    "stands": {"stand", "area_ac"},
}


@functools.cache
def synonyms() -> dict[str, dict[str, str]]:
    """Table, then heading in plain letters, to column."""
    known: dict[str, dict[str, str]] = {}
    for row in rows("memory/exchange/column_words.csv", 3):
        for word in (row["column"].replace("_", " "), *row["synonyms"].split("|")):
            known.setdefault(row["table"], {}).setdefault(word, row["column"])
    for columns in known.values():
        # SppCode is the species code, PlotID the plot.
        columns |= {bare: column for word, column in columns.items() if (bare := word.replace(" ", "")) not in columns}
    return known


@functools.cache
def words(kind: str) -> frozenset[str]:
    """Words of one kind that field sheets use, such as those for an empty plot."""
    of_kind = (row for row in rows("memory/exchange/words.csv", 2) if row["kind"] == kind)
    return frozenset(word for row in of_kind for word in row["words"].split("|"))


def tables() -> list[str]:
    """Tables that a foreign sheet may hold."""
    return list(synonyms())


def columns_of(table: str) -> list[str]:
    """Columns that a heading of a foreign sheet may be taken as."""
    return sorted(set(synonyms()[table].values()))


@functools.lru_cache(maxsize=16_384)
def plain(heading: str) -> str:
    """A heading in lower case without its unit or punctuation."""
    # 'Ht (logs)' is a count of logs and no height: what counts stays, where it is of a usual length.
    text = _HALF_LOGS.sub(" logs ", _TENTHS.sub(" ", _MARKED.sub("", heading.lower())))
    text = _TIMED.sub("acorns", text)
    text = re.sub(r"[(\[]\s*(16\s*-?\s*(ft|foot|')\s*)?logs?\s*[)\]]", " logs ", text)
    text = re.sub(r"\([^)]*\)|\[[^\]]*\]", " ", text)
    text = re.sub(r"[\s_./#:?,;\-]+", " ", text).strip()
    parts = text.split()
    while len(parts) > 1 and parts[-1] in UNIT_WORDS:
        parts.pop()
    return " ".join(parts) or ("no" if heading.strip() == "#" else "")


def seconds_in(heading: str) -> str:
    """The seconds that acorns were counted for, by their heading ("Acorns in 30 s"); "" where it names none."""
    match = _TIMED.match(heading.lower())
    return match[1] or match[2] if match else ""


def are_half_logs(heading: str, title: str) -> bool:
    """Whether a heading, or the title where the heading names no unit, says that logs are of 8 ft."""
    return bool(_HALF_LOGS.search(heading) or (not unit_in(heading) and _HALF_LOGS.search(title)))


def unit_in(heading: str) -> str:
    """The unit a heading names, or an empty text."""
    if _HALF_LOGS.search(heading):
        return "8-ft logs"
    lower = heading.lower()
    if _TENTHS.search(lower):
        return ""
    if marked := _MARKED.search(lower):
        return "ft" if marked[1] in ("'", "\u2032", "\u2019") else "in"
    inside = re.search(r"[(\[]\s*([^)\]]+?)\s*[)\]]", heading)
    if inside:
        text = inside.group(1).lower().strip(". ")
        named = [text, *re.split(r"[\s_,]+", text)]
    else:
        named = list(reversed(re.split(r"[\s_,]+", heading.strip().lower())[1:]))
    return next((UNIT_WORDS[word.strip(". ")] for word in named if word.strip(". ") in UNIT_WORDS), "")


@functools.lru_cache(maxsize=16_384)
def is_per_area(heading: str) -> bool:
    """Whether a heading is an amount an acre or a hectare: no count of a plot."""
    text = heading.lower().replace("_", " ")
    return bool(re.search(r"(/|\bper|\ban)\s*(ac|acre|acres|ha|hectare)\b|\b(tpa|tph|spa|bapa)\b", text))


def _is_share(heading: str) -> bool:
    """Whether a heading is a percentage, which counts nothing."""
    return bool(re.search(r"%|\bpct\b|\bpercent", heading.lower()))


def is_cover(heading: str) -> bool:
    """Whether a heading is the ground that young stems cover: lines of cover count no stems."""
    lower = heading.lower()
    return bool(re.search(r"\bcover\b", lower)) and not re.search(r"crown|canopy|overstory", lower)


def is_bare_number(heading: str) -> bool:
    """Whether a heading says number and not of what: it may number the lines, or count their stems."""
    return plain(heading) in ("no", "n", "num", "number", "nr")


def may_be_counts(heading: str) -> bool:
    """Whether a heading that is no known one speaks of stems or of counting."""
    return bool(
        re.search(
            r"stem|tree|seedl|count|tall(y|ied)|weight|expans|multipl|\bnum|\bno\b|#|qty|quantity|freq|sprout|how many",
            heading.lower(),
        )
    )


def is_stand_and_plot(heading: str) -> bool:
    """Whether a heading names a stand and its plot in one, such as Stand-Plot or Stand/Pt."""
    return bool(re.fullmatch(r"(stand|std|unit|tract) (and )?(plot|point|pt|plt)( no| id)?", plain(heading)))


def is_no_count(heading: str) -> bool:
    """Whether a heading says what is measured, named or summed: its whole numbers count no stems of a plot."""
    ordinary = (
        r"slope|aspect|\bage\b|elev|year|\byr|log|\bht\b|hgt|height|crown|defect|cull|grade|azi|dist|value|"
        r"price|class|code"
    )
    ordinary += (
        r"|\b[hsxyz]\b|\bid\b|photo|form|page|total|\bsum\b|old|dbh|diam|vol|\bbf\b|\bsi\b|site|radius|size|tag|"
        r"time|date|canopy|cover"
    )
    return is_per_area(heading) or _is_share(heading) or bool(re.search(ordinary, heading.lower()))


def is_amount_an_acre(heading: str) -> bool:
    """Whether a heading is an amount an acre of the trees themselves; the factor of a prism has such a unit and is
    none."""
    return is_per_area(heading) and synonyms()["trees"].get(plain(heading)) not in _PER_AREA


def exact_columns(table: str, cells: Sequence[str]) -> dict[str, int]:
    """Which cell serves which column, by the known words alone."""
    known = synonyms()[table]
    taken: dict[str, int] = {}
    for place, cell in enumerate(cells[:MOST_HEADINGS]):
        column = known.get(plain(cell)) if cell.strip() else None
        if (
            column
            and column not in taken
            and not (column in _COUNTS and _is_share(cell))
            and (column in _PER_AREA or not is_per_area(cell))
        ):
            taken[column] = place
    return taken


def columns(table: str, cells: Sequence[str]) -> dict[str, int]:
    """Which cell of a heading row serves which column of a table; a near miss of a longer word counts too."""
    taken = exact_columns(table, cells)
    for place, cell in enumerate(cells[:MOST_HEADINGS]):
        word = plain(cell)
        if place in taken.values() or len(word) < _SHORTEST_GUESSED or is_per_area(cell):
            continue
        column = _near(table, word)
        if column and column not in taken and not (column in _COUNTS and _is_share(cell)):
            taken[column] = place
    return taken


@functools.lru_cache(maxsize=4096)
def _near(table: str, word: str) -> str:
    known = synonyms()[table]
    # A number in a heading is a class or a date, never a slip of the pen: "dbh class 6" is no misspelt "dbh class".
    numbers = re.findall(r"\d+", word)
    longer = [one for one in known if len(one) >= _SHORTEST_GUESSED and re.findall(r"\d+", one) == numbers]
    near = difflib.get_close_matches(word[:60], longer, n=1, cutoff=_NEARNESS)
    return known[near[0]] if near and _is_slip(word, near[0]) else ""


def _is_slip(word: str, known: str) -> bool:
    """Whether each word of a heading is one of a known heading misspelt: "regen count" is no slip of "tree count"."""
    parts, others = word.split(), known.split()
    if any(len(part) == 1 for part in {*parts} - {*others}):
        return False
    if len(parts) != len(others):
        return difflib.SequenceMatcher(None, "".join(parts), "".join(others)).ratio() > _NEARNESS
    return all(
        difflib.SequenceMatcher(None, one, other).ratio() >= _WORD_NEARNESS
        for one, other in zip(parts, others, strict=True)
    )


def score(cells: Sequence[str]) -> int:
    """How many cells of a row are headings of the table they fit best."""
    return max((len(exact_columns(table, cells)) for table in synonyms()), default=0)


def best_table(fits: Mapping[str, Mapping[str, int]], cells: Sequence[str], height_classes: bool) -> str:
    """The table whose defining columns a sheet has most of; "" where it has too few of any.

    ``height_classes`` says that the cells of a size class are heights: such a sheet holds young stems.
    """
    tally = "species" in fits["trees"] or "species" in fits["seedlings"]
    marks: dict[str, float] = {}
    for table, taken in fits.items():
        defining = len(DEFINING[table] & set(taken))
        if table in ("stands", "points") and (tally or (table == "points" and "dbh_in" in fits["trees"])):
            continue
        if table == "stems" and ("point" in fits["trees"] or not {"azimuth_deg", "east_ft"} & set(taken)):
            continue
        if table == "points" and "point" in taken and len([cell for cell in cells if cell]) > 1:
            marks[table] = 1
        if defining > 1:
            bonus = (
                3
                if table == "acorn_trees" and {"acorns", "bearing"} & set(taken) and "point" not in fits["trees"]
                else 0
            )
            marks[table] = len(taken) + 2 * defining + bonus
    if "seedlings" in marks and "trees" in marks and "height_class" in fits["seedlings"]:
        marks["seedlings" if height_classes else "trees"] += 100
    return max(marks, key=lambda name: marks[name], default="")


def signature(table_headings: Sequence[str]) -> str:
    """A fingerprint of a sheet's headings, by which a kept mapping is found again: no file or sheet name in it."""
    marks = sorted(plain(cell) + "|" + unit_in(cell) for cell in table_headings if cell.strip())
    return hashlib.sha256("\n".join(marks).encode()).hexdigest()
