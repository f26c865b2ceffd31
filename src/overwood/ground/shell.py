"""Words of a command line as a person copies them: what a shell would act on is quoted."""

from __future__ import annotations

import re
import shlex
import sys

_PLAIN = re.compile(r"[\w.=/@:,+%-]+")
# Within double quotes a shell still acts on these.
_ACTIVE = frozenset('"$`\\!')


def shell_word(text: str, *, is_windows: bool = sys.platform == "win32") -> str:
    """A text as one word of a command line; Windows knows double quotes only, and its paths are full of backslashes.

    >>> shell_word("stand=K1"), shell_word("height_class.<1=<0.5")
    ('stand=K1', '"height_class.<1=<0.5"')
    >>> shell_word(r"C:\\My woods\\b.zip", is_windows=True)
    '"C:\\\\My woods\\\\b.zip"'
    """
    if _PLAIN.fullmatch(text):
        return text
    if is_windows:
        return f'"{text}"'
    return shlex.quote(text) if _ACTIVE & set(text) else f'"{text}"'
