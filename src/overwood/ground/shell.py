"""Words of a command line as a person copies them: what a shell would act on is quoted."""

from __future__ import annotations

import re
import shlex

_PLAIN = re.compile(r"[\w.=/@:,+%-]+")
# Within double quotes a shell still acts on these.
_ACTIVE = frozenset('"$`\\!')


def shell_word(text: str) -> str:
    """A text as one word of a command line.

    >>> shell_word("stand=K1"), shell_word("height_class.<1=<0.5")
    ('stand=K1', '"height_class.<1=<0.5"')
    """
    if _PLAIN.fullmatch(text):
        return text
    return shlex.quote(text) if _ACTIVE & set(text) else f'"{text}"'
