"""A price list is read whole, and what cannot be is refused with its line."""

from __future__ import annotations

import re
import tomllib

import pytest

from conftest import ROOT
from overwood.ground.errors import BadRule
from overwood.judgement import prices

DEMO = (ROOT / "demo" / "prices.toml").read_text(encoding="utf-8")


def listed(tmp_path, text):
    (tmp_path / "prices.toml").write_text(text, encoding="utf-8")
    return prices.load(tmp_path / "prices.toml")


def _inline(text):
    """The same prices as one array of inline tables."""
    plain = tomllib.loads(text)
    rows = ["{" + ", ".join(f"{key} = {value!r}".replace("'", '"') for key, value in row.items()) + "}" for row in plain["price"]]
    head = text[: text.index("[[price]]")]
    return head + "price = [\n  " + ",\n  ".join(rows) + ",\n]\n" + text[text.index("[cost]") :]


@pytest.mark.parametrize(
    "written",
    [
        lambda text: re.sub(r"^(?=\S)", "   ", text, flags=re.MULTILINE),
        lambda text: text.replace("[[price]]", "[[ price ]]"),
        lambda text: text.replace("[[price]]", '[["price"]]'),
        lambda text: text.replace("\n", "\r\n"),
        lambda text: "\ufeff" + text,
        _inline,
    ],
    ids=["indented", "spaced", "quoted", "windows", "marked", "inline"],
)
def test_every_price_of_a_legal_list_is_read(tmp_path, written):
    assert listed(tmp_path, written(DEMO)) == listed(tmp_path, DEMO)
    assert len(listed(tmp_path, DEMO).prices) == len(tomllib.loads(DEMO)["price"])


def _line(text, words):
    return text[: text.index(words)].count("\n") + 1


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("injection = 165", "injection = nan", "the cost injection is nan"),
        ("burn = 95", "burn = inf", "the cost burn is inf"),
        ("burn = 95", 'burn = "95"', "the cost burn is '95'"),
        ("burn = 95", "burn = true", "the cost burn is True"),
        ("high = 2600", "high = inf", "the high is inf"),
        ("low = 1200", "low = nan", "the low is nan"),
        ("sale_fee_share = 0.10", "sale_fee_share = 40", "the cost sale_fee_share is 40"),
        ("rate_usd_ac = 115", "rate_usd_ac = 115\nacres = -5", "the acres is -5"),
        ("rate_usd_ac = 115", "rate_usd_ac = 115\nacers = 5", "there is no entry 'acers'"),
        ("mean = 1800", "maen = 1800\nmean = 1800", "there is no entry 'maen'"),
        ('product = "veneer"', 'product = "veneer"\ngrade = "A"', "grade is 'A'"),
    ],
)
def test_an_impossible_number_is_refused_with_its_line(tmp_path, old, new, words):
    text = DEMO.replace(old, new, 1)
    place = _line(text, new.splitlines()[-1] if "acres" in new or "acers" in new or "grade" in new else new)

    with pytest.raises(BadRule) as caught:
        listed(tmp_path, text)

    assert words in str(caught.value)
    assert f"prices.toml line {place}:" in str(caught.value)


def test_two_prices_for_one_thing_are_refused(tmp_path):
    first = DEMO[DEMO.index("[[price]]") :].split("\n\n")[0]

    with pytest.raises(BadRule, match="stands in line 6 already"):
        listed(tmp_path, DEMO.replace("[cost]", f"{first}\n\n[cost]", 1))


def test_a_table_nobody_reads_is_named(tmp_path):
    with pytest.raises(BadRule, match="there is no entry 'prices'"):
        listed(tmp_path, DEMO + '\n[[prices]]\nproduct = "veneer"\n')
