"""A TOML file is read by its reader alone, and a fault names the line of its entry."""

from __future__ import annotations

import pytest

from overwood.ground.errors import BadRule
from overwood.judgement.rules import toml_file

LIST = """# a list
date = "2025-09-01"

  [[price]]      # indented, as TOML allows
  product = "veneer"
  low = 1

[[ price ]]
product = "stave"
marks = [
  1,
  2,
]
low = 2
[cost]
burn = 3
"""


@pytest.fixture
def listed(tmp_path):
    (tmp_path / "list.toml").write_text(LIST)
    return toml_file.read(tmp_path / "list.toml", what="price list")


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("date",), 2), (("price", 0), 4), (("price", 0, "low"), 6), (("price", 1), 8), (("price", 1, "marks"), 13), (("price", 1, "low"), 14),
        (("cost", "burn"), 16),
    ],
)  # fmt: skip
def test_an_entry_stands_where_a_reader_of_the_file_finds_it(listed, path, line):
    assert listed.line_of(*path) == line


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"a = 1\nb = \xff\n", "line 2 is not UTF-8"),
        (b"a = 1\nb = \n", "at line 2"),
        (b"a = 1\na = 2\n", "not readable TOML"),
        (b"#" * 1_000_001, "1,000,001 bytes"),
        (b"a = " + b"[" * 5000 + b"]" * 5000, "not readable TOML"),
    ],
)
def test_what_is_no_list_is_said_with_its_line(tmp_path, content, words):
    (tmp_path / "x.toml").write_bytes(content)
    with pytest.raises(BadRule) as caught:
        toml_file.read(tmp_path / "x.toml", what="price list")
    assert words in str(caught.value)
