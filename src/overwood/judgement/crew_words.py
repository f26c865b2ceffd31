"""What judgement says to a crew: a code with its values, English as it is read, Spanish for the papers that ask for
it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from overwood.ground import measures, tables

ENGLISH, SPANISH = "en", "es"
MONTHS = {
    ENGLISH: (
        "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
        "December",
    ),
    SPANISH: (
        "enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre", "noviembre",
        "diciembre",
    ),
}  # fmt: skip


def table() -> dict[str, dict[str, str]]:
    """The sentences by language and code."""
    return tables.words("judgement/crew_words.toml")


class Sentence(str):
    """A sentence in English that knows its code and its values, so that it can be said in another language as well."""

    code: str
    values: dict[str, Any]

    def in_language(self, language: str) -> str:
        """The sentence in ``en`` or ``es``."""
        return measures.prose(
            table()[language][self.code].format(
                **{name: _value(value, language) for name, value in self.values.items()}
            )
        )


def sentence(code: str, **values: Any) -> Sentence:
    """The sentence of a code; days among the values are said as a month and a year, several values parted by
    semicolons. Raises KeyError when there is no such sentence, or it names a value that is not given."""
    english = table()[ENGLISH][code].format(**{name: _value(value, ENGLISH) for name, value in values.items()})
    made = Sentence(measures.prose(english))
    made.code, made.values = code, values
    return made


def _value(value: Any, language: str) -> str:
    if isinstance(value, Sentence):
        return value.in_language(language)
    if isinstance(value, tuple):
        return "; ".join(_value(part, language) for part in value)
    return month(value, language) if isinstance(value, dt.date) else str(value)


def month(day: dt.date, language: str) -> str:
    """Month and year of a day in words."""
    name = MONTHS[language][day.month - 1]
    return f"{name} {day.year}" if language == ENGLISH else f"{name} de {day.year}"
