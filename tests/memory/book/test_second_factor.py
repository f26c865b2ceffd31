"""Codes of a second device, against the published vectors, and what opens an account once."""

from __future__ import annotations

import base64
import datetime as dt

import pytest

from overwood.desk import log_in
from overwood.ground.errors import Misuse, NotFound
from overwood.memory.book import second_factor
from overwood.memory.book.models import SecondFactor

NOW = dt.datetime(2026, 1, 15, 12, 0, 5, tzinfo=dt.UTC)
LATER = dt.timedelta(seconds=second_factor.STEP_S)
# RFC 6238 (M'Raihi, Machani, Pei, Rydell, 2011), appendix B, rows of SHA-1: the last six of its eight digits.
KEY = b"12345678901234567890"
VECTORS = [
    (59, "287082"),
    (1111111109, "081804"),
    (1111111111, "050471"),
    (1234567890, "005924"),
    (2000000000, "279037"),
    (20000000000, "353130"),
]


@pytest.mark.parametrize(("seconds", "code"), VECTORS)
def test_codes_are_those_of_the_standard(seconds, code):
    assert second_factor.code_at(KEY, dt.datetime.fromtimestamp(seconds, dt.UTC)) == code


def _key(letters):
    plain = letters.replace(" ", "")
    return base64.b32decode(plain + "=" * (-len(plain) % 8))


def _set_up(who="cruiser"):
    key = _key(log_in.begin_second_factor(who).letters)
    return key, log_in.confirm_second_factor(who, second_factor.code_at(key, NOW), NOW)


def test_an_account_without_a_second_factor_needs_no_code(book):
    assert second_factor.passes("cruiser", "", NOW)


def test_a_key_that_was_not_confirmed_asks_for_nothing(book):
    log_in.begin_second_factor("cruiser")

    assert second_factor.passes("cruiser", "", NOW)
    with pytest.raises(Misuse, match="not right"):
        log_in.confirm_second_factor("cruiser", "000000x", NOW)


def test_a_code_opens_once(book):
    key, _ = _set_up()
    at = NOW + 2 * LATER
    code = second_factor.code_at(key, at)

    assert not second_factor.passes("cruiser", "", at)
    assert second_factor.passes("cruiser", code, at)
    assert not second_factor.passes("cruiser", code, at)


def test_the_code_that_confirmed_does_not_open_the_desk(book):
    key, _ = _set_up()

    assert not second_factor.passes("cruiser", second_factor.code_at(key, NOW), NOW)


@pytest.mark.parametrize(("steps", "opens"), [(-2, False), (-1, True), (1, True), (2, False)])
def test_a_device_may_be_one_step_off(sqlite_book, steps, opens):
    key, _ = _set_up()
    at = NOW + 10 * LATER

    assert second_factor.passes("cruiser", second_factor.code_at(key, at + steps * LATER), at) is opens


def test_a_spare_code_opens_once(sqlite_book):
    _, spare = _set_up()

    assert len(set(spare)) == second_factor.SPARE_CODES
    assert second_factor.passes("cruiser", spare[3].upper(), NOW)
    assert not second_factor.passes("cruiser", spare[3], NOW)
    assert second_factor.passes("cruiser", spare[4], NOW)


def test_the_book_holds_neither_key_nor_spare_codes(sqlite_book):
    key, spare = _set_up()
    row = SecondFactor.objects.get()
    held = f"{row.secret} {row.spare}"

    assert base64.b32encode(key).decode() not in held
    assert key not in base64.urlsafe_b64decode(row.secret)
    assert not any(word in held for word in spare)


def test_a_key_sealed_by_another_office_opens_nothing(sqlite_book, settings_secret):
    key, _ = _set_up()
    settings_secret("another office")

    assert not second_factor.passes("cruiser", second_factor.code_at(key, NOW + 2 * LATER), NOW + 2 * LATER)


@pytest.fixture
def settings_secret(monkeypatch):
    from django.conf import settings

    return lambda word: monkeypatch.setattr(settings, "SECRET_KEY", word)


def test_an_address_that_was_never_given_out_opens_nothing(sqlite_book):
    with pytest.raises(NotFound, match="never given out"):
        log_in.invitation("guess", NOW)
