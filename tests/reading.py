"""How hard a text is to read: the grade of Flesch and Kincaid, with syllables counted by vowel groups.

Grade = 0.39 words / sentences + 11.8 syllables / words - 15.59 (Kincaid J. P. and others 1975, Naval Technical Training Command
Research Branch Report 8-75; from memory of that report).
"""

from __future__ import annotations

import re
from typing import Any


def syllables(word: str) -> int:
    """Vowel groups, a silent e at the end left out; at least one."""
    groups = len(re.findall(r"[aeiouy]+", word.lower()))
    silent = bool(re.search(r"[^aeiouyl]e$|[^aeiouydt]ed$", word.lower()))
    return max(1, groups - (silent and groups > 1))


def grade(sentences: list[str]) -> float:
    """School grade of some sentences."""
    whole = [part for text in sentences for part in re.split(r"(?<=[.!?])\s+", text) if re.search(r"[A-Za-z]", part)]
    words = [word for part in whole for word in re.findall(r"[A-Za-z]+(?:'[a-z]+)?|\d[\d.,]*", part)]
    return 0.39 * len(words) / len(whole) + 11.8 * sum(syllables(word) for word in words) / len(words) - 15.59


def of_brief(said: dict[str, Any]) -> float:
    """School grade of all that the two pages of an owner's brief say in sentences."""
    lists = [text for name in ("showed", "doubts", "conflicts", "cautions", "words") for text in said[name]]
    return grade([said["lead"], said["nothing"], said["sure"], said["paid"], said["waiting"], *lists])
