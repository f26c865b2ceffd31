"""What a page or a paper says, and the US units left in it."""

from __future__ import annotations

import html
import re

_WORDS = (
    r"ft[²³23]?|inch(?:es)?|feet|foot|acres?|ac|mi/h|mph|miles?|gal(?:lons?)?|quarts?|pints?|°F|degF|tons?|lb|pounds?|ch/h|chains?|Btu|MBF"
    r"|cords?|yards?|in/yr|sq ft|in[²³23]"
)
# "in" and "F" stand for units behind a number only, or at the end of a heading.
US_UNIT = re.compile(rf"(?<!\w)(?:{_WORDS})(?!\w)|(?<=\d[ ])(?:in(?:\.|(?=[,;)]|$| dbh| d\.b\.h))|F(?!\w))|, in\.$")
_SPANISH = re.compile(r"(?<!\w)(?:pies?|pulg(?:adas)?|acres?|galones)(?!\w)", re.IGNORECASE)
_BRACKETS = re.compile(r"\(-?[\d.,]+ (?:acres|ft2/ac|in|ft)\)")
_SOURCE = re.compile(r"[A-Z][a-z]+ [A-Z]\. .*\(\d{4}\)")
# Other meanings of a word, titles of sources, the published form of an equation, and what a person wrote in the records stay as they are.
QUOTED = (
    "bd ft",
    "board feet",
    "Board feet",
    "board foot",
    "n inch of board a foot square",
    "a chain is",
    "the published chain",
    "the foot of",
    # A ratio by its name in the trade, and equations as they were published.
    "bark-at-foot",
    "Bark-at-foot",
    "sum of tpa x dbh / inches per cut",
    "every 16-ft log scaled",
    "0.71 d each 4 ft",
    # What a plain number of a foreign sheet may mean.
    "ft²/ac, as a plain number",
    "ac, as a plain number",
    "plot in acres: its unit is asked",
    "a factor in ft²/ac: its unit is asked",
    "in. or cm",
    "in feet or meters, not in inches or centimeters",
    "the foot in the woods",
    "trees whose foot was looked at",
    "the feet of leave trees",
    "Leave the whole foot blank",
    # Headings and notes as persons wrote them, and what a plain number means that they type.
    "Ht (ft)",
    "exactly three feet (1), empty plot",
    "ft2/ac if no unit is given",
    "ac if no unit is given",
    "ft if no unit is given",
    "in if no unit is given",
    "line 3,900 ft",
    "a stem map of 5 acres",
    "at the foot",
    "at its foot",
    "the foot of a leave tree",
    "at your feet",
    "MBF",
    "Most an acre and year, gal, as the label has it",
    "in the inches of the paper",
    "Every tree of 16 in. and more was sold by a former owner",
    "before the crop; line 2,900 ft",
)


def said(page):
    """What a page says, one text a line: its words and the labels that are read aloud, without what is typed into forms."""
    text = re.sub(
        # In which unit a file of theirs is, people say of the file itself.
        r"<(script|style)\b.*?</\1>|<ul class=\"plain sources\">.*?</ul>|<select name=\"(?:height|in\.[^\"]*)\".*?</select>",
        "", page.content.decode(), flags=re.DOTALL,
    )  # fmt: skip
    labels = re.findall(r"(?:title|aria-label|alt|placeholder)=\"([^\"]*)\"", text)
    return [html.unescape(line).strip() for line in (*re.sub(r"<[^>]+>", "\n", text).split("\n"), *labels) if line.strip()]


def us_units(page):
    found = []
    for line in said(page):
        found += [line] if not line.startswith("Rows are typed in US units.") and has_us_unit(_BRACKETS.sub("", line)) else []
    return found


def has_us_unit(text):
    for quote in QUOTED:
        text = text.replace(quote, "")
    return bool(US_UNIT.search(text))


def texts(content):
    if isinstance(content, str):
        return re.findall(r">([^<>]+)<", content) if content.startswith("<svg") else [content]
    parts = content.values() if isinstance(content, dict) else content if isinstance(content, list | tuple) else ()
    return [text for part in parts for text in texts(part)]


def left_on_paper(printed):
    """Texts of a paper with a US unit that does not stand in brackets behind its metric value; sources go by their titles."""
    left = []
    for text in texts({key: part for key, part in printed.items() if key not in ("sources", "foot")}):
        # The foot of a sheet, where its columns are summed.
        if text not in ("foot", "pie") and not _SOURCE.match(text):
            bare = _BRACKETS.sub("", text).replace("pies tablares", "").replace("en pie", "").replace("el pie ", "").replace("al pie", "")
            left += [text] if has_us_unit(bare) or _SPANISH.search(bare) else []
    return left
