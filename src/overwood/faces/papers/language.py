"""The papers of the crew in English, in Spanish, or both side by side: one word file a paper, and how days and species
are put.

A word that a language lacks is a fault, never the other language in its place.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from overwood.ground import measures, tables
from overwood.ground.errors import Misuse
from overwood.ground.species import Species, by_code, match
from overwood.judgement.course import steps
from overwood.judgement.crew_words import ENGLISH, MONTHS, SPANISH, Sentence
from overwood.judgement.gates.windows import Window

LANGUAGES = {ENGLISH: "English", SPANISH: "Español", "both": "English + Español"}
# A text as a template takes it: in one language, or English and Spanish to stand beside each other.
Text = str | dict[str, str]


def table(paper: str = "") -> dict[str, Any]:
    """The word file of a paper, or the words that all papers share."""
    return tables.words(f"faces/papers/{paper}/words.toml" if paper else "faces/papers/language.toml")


@dataclass(frozen=True)
class Part:
    """Part of a text that is a text of the same word file itself."""

    key: str
    values: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Gloss:
    """A word of the records with its Spanish."""

    english: str
    spanish: str


@dataclass(frozen=True)
class Words:
    """The words of one paper in the language asked for; ``law`` names those that stand in English beside any other."""

    paper: str
    language: str

    def text(self, key: str, **values: Any) -> Text:
        """One text with its values filled in."""
        return self._each(lambda language: self._filled(key, language, values), law=key in self._law)

    def texts(self, key: str) -> list[Text]:
        """A list of texts without values, their marked units in the system in force."""
        lists = {language: self._entry(key, language) for language in (ENGLISH, SPANISH)}
        return [
            self._each(lambda language, at=at: measures.prose(lists[language][at].format()))
            for at in range(len(lists[ENGLISH]))
        ]

    def line(self, key: str, **values: Any) -> str:
        """A text for where there is room for one line only, such as a title or a picture."""
        return one_line(self.text(key, **values))

    def sentence(self, made: str) -> Text:
        """A sentence that judgement made."""
        if not isinstance(made, Sentence):
            raise Misuse(f"{made[:40]!r} is said in English only.", remedy="Ask for the paper in English.")
        return self._each(made.in_language, law=made.code in self._law)

    def framed(self, key: str, made: str) -> Text:
        """A sentence of judgement within a text of the paper, in the place called ``text``."""
        assert isinstance(made, Sentence)
        return self._each(lambda language: self._filled(key, language, {"text": made}), law=made.code in self._law)

    def caution(self, name: str) -> Text:
        """A caution; what is law or label stands in English too."""
        texts = {ENGLISH: steps.caution}
        if self.language != ENGLISH:
            texts[SPANISH] = steps.caution_in_spanish
        return self._each(lambda language: texts[language](name), law=name in table()["law_cautions"])

    def named(self, group: str, word: str, english: str = "") -> Gloss:
        """A word of the records as a value of a text; its Spanish stands in a table of the word file."""
        return Gloss(english or word, table(self.paper)[group][word])

    def glossed(self, group: str, word: str, english: str) -> Text:
        """A word of the records as a text of its own; the English stays, for it is what will be typed."""
        return english if self.language == ENGLISH else {ENGLISH: english, SPANISH: table(self.paper)[group][word]}

    def foot(self, key: str) -> str:
        """A line at the foot of every sheet, which has room for one language."""
        return self._filled(key, SPANISH if self.language == SPANISH else ENGLISH, {})

    def species(self, name: str) -> str:
        """A species by its common name; one that is not known as it was written."""
        code = match(name).spcd
        return name if code is None else phrase(by_code(code), ENGLISH if self.language == ENGLISH else SPANISH)

    @property
    def notice(self) -> Text:
        """Who reviewed the Spanish, or that nobody did; nothing on a sheet in English."""
        if self.language == ENGLISH:
            return ""
        signed = table()["review"]
        return Words("", "both").text("reviewed" if signed["by"] else "not_reviewed", **signed)

    def frame(self, **more: Any) -> dict[str, Any]:
        """What the sheet of a crew's paper prints around its body: title, notice, words for pages and cautions."""
        head = Words("", self.language).text("cautions")
        tongue = SPANISH if self.language == SPANISH else ENGLISH
        return {"language": tongue, "notice": self.notice, "cautions_head": head, "footer": self.foot("footer"), **more}

    @property
    def _law(self) -> Sequence[str]:
        law: list[str] = table(self.paper).get("law", [])
        return law

    def _each(self, of: Any, *, law: bool = False) -> Text:
        if self.language == "both" or (law and self.language == SPANISH):
            pair = {language: of(language) for language in (ENGLISH, SPANISH)}
            return pair[ENGLISH] if pair[ENGLISH] == pair[SPANISH] else pair
        text: str = of(self.language)
        return text

    def _entry(self, key: str, language: str) -> Any:
        return table(self.paper)[language][key]

    def _filled(self, key: str, language: str, values: dict[str, Any]) -> str:
        text: str = self._entry(key, language)
        filled = text.format(**{name: self._value(value, language) for name, value in values.items()})
        return measures.prose(filled)

    def _value(self, value: Any, language: str) -> str:
        return self._filled(value.key, language, value.values) if isinstance(value, Part) else phrase(value, language)


def words(paper: str, language: str = ENGLISH) -> Words:
    """The words of a paper. Raises Misuse when papers are not made in that language."""
    if language not in LANGUAGES:
        raise Misuse(f"papers are not made in {language!r}.", remedy=f"There are {', '.join(LANGUAGES)}.")
    return Words(paper, language)


def one_line(text: Text) -> str:
    """A text on one line, its languages parted by a stroke."""
    return text if isinstance(text, str) else " / ".join(text.values())


def phrase(value: Any, language: str) -> str:
    """A value of a text: sentences, days, seasons and species in the language, all else as it is."""
    if isinstance(value, Sentence):
        return value.in_language(language)
    if isinstance(value, Gloss):
        return value.english if language == ENGLISH else value.spanish
    if isinstance(value, dt.date):
        return day(value, language)
    if isinstance(value, Window):
        return f"{day(value.start, language)} {'to' if language == ENGLISH else 'al'} {day(value.end, language)}"
    if isinstance(value, Species):
        # Common names are those of the English-speaking trade; the scientific name is the same in both languages.
        return value.common_name if language == ENGLISH else f"{value.common_name} ({value.scientific_name})"
    return str(value)


def day(on: dt.date, language: str) -> str:
    """A day in words."""
    name = MONTHS[language][on.month - 1]
    return f"{on.day} {name} {on.year}" if language == ENGLISH else f"{on.day} de {name} de {on.year}"
