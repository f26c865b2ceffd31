"""Seasons as pairs of days."""

from __future__ import annotations

import datetime as dt

import pytest

from overwood.judgement.gates.windows import Window, cut_after_injection, open_days, season, upcoming
from overwood.judgement.rules import load

RULES = load()


def test_a_season_over_new_year_ends_in_the_next_year():
    assert season(RULES, "window_cut", 2025) == Window(dt.date(2025, 12, 1), dt.date(2026, 2, 28))
    assert season(RULES, "window_cut", 2027).end == dt.date(2028, 2, 29)


@pytest.mark.parametrize(
    ("on", "start", "end"),
    [("2025-10-15", "2025-10-15", "2025-12-31"), ("2025-08-01", "2025-10-01", "2025-12-31"), ("2026-01-01", "2026-10-01", "2026-12-31")],
)
def test_what_is_left_of_a_season_or_the_next(on, start, end):
    found = upcoming(RULES, "window_injection", dt.date.fromisoformat(on))

    assert (found.start.isoformat(), found.end.isoformat()) == (start, end)


def test_inside_a_season_over_new_year():
    assert upcoming(RULES, "window_cut", dt.date(2026, 1, 10)) == Window(dt.date(2026, 1, 10), dt.date(2026, 2, 28))


@pytest.mark.parametrize(("on", "cut"), [("2025-03-01", "2026-12-01"), ("2025-10-15", "2026-12-01"), ("2026-01-10", "2026-12-01")])
def test_the_seed_cut_follows_the_summer_after_the_injection(on, cut):
    assert cut_after_injection(RULES, dt.date.fromisoformat(on)).start.isoformat() == cut


def test_guidance_leaves_only_the_days_it_allows():
    marking = Window(dt.date(2025, 9, 1), dt.date(2025, 10, 31))

    left = open_days(marking, RULES, allowed="roost_tree_felling")

    assert left == [Window(dt.date(2025, 10, 1), dt.date(2025, 10, 31))]
    # A season over New Year that began in the year before goes on into January.
    winter = open_days(Window(dt.date(2026, 1, 1), dt.date(2026, 5, 31)), RULES, allowed="roost_tree_felling")
    assert winter == [Window(dt.date(2026, 1, 1), dt.date(2026, 3, 31))]
    assert open_days(Window(dt.date(2025, 3, 1), dt.date(2025, 8, 31)), RULES, closed="oak_wilt_no_wounds") == [
        Window(dt.date(2025, 3, 1), dt.date(2025, 3, 31)),
        Window(dt.date(2025, 8, 1), dt.date(2025, 8, 31)),
    ]
