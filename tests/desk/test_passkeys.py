"""Passkeys: whoever holds the device comes in, and nobody by an answer that is foreign, old, copied or unverified."""

from __future__ import annotations

import datetime as dt
import sys

import pytest

from authenticator import Device
from overwood.desk import passkeys
from overwood.ground.errors import Misuse
from overwood.memory.book import accounts

ORIGIN = "https://desk.example:8443"
NOW = dt.datetime(2026, 1, 15, 12, 0, tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)


def made(device, who="cruiser", at=NOW):
    asked = passkeys.begin(who, ORIGIN, at)
    passkeys.finish(who, "telephone", ORIGIN, asked.state, device.make(asked.options), at)


def opened(device, at, asked=None):
    asked = asked or passkeys.begin_log_in(ORIGIN, at)
    return passkeys.finish_log_in(ORIGIN, asked.state, device.open(asked.options), at)


@pytest.mark.parametrize("counts", [True, False], ids=["a device that counts", "one that does not"])
def test_a_passkey_opens_the_desk_for_its_account(sqlite_book, counts):
    device = Device(ORIGIN, counts=counts)
    made(device)

    assert opened(device, NOW + MINUTE) == "cruiser"
    assert opened(device, NOW + 2 * MINUTE) == "cruiser"
    assert [(row["label"], row["used_at"]) for row in passkeys.of("cruiser")] == [("telephone", NOW + 2 * MINUTE)]


@pytest.mark.parametrize("counts", [True, False])
def test_an_answer_opens_the_desk_once(sqlite_book, counts):
    device = Device(ORIGIN, counts=counts)
    made(device)
    asked = passkeys.begin_log_in(ORIGIN, NOW + MINUTE)
    answer = device.open(asked.options)

    passkeys.finish_log_in(ORIGIN, asked.state, answer, NOW + MINUTE)
    with pytest.raises(Misuse, match="used already"):
        passkeys.finish_log_in(ORIGIN, asked.state, answer, NOW + MINUTE)


def test_a_copied_device_whose_count_is_behind_is_refused(sqlite_book):
    device = Device(ORIGIN)
    made(device)
    opened(device, NOW + MINUTE)
    device.count -= 1

    with pytest.raises(Misuse, match="used already"):
        opened(device, NOW + 2 * MINUTE)


@pytest.mark.parametrize(
    "device",
    [
        Device("https://desk.example"),
        Device("https://dесk.example:8443"),
        Device("http://desk.example:8443"),
        Device(ORIGIN, verifies=False),
    ],
    ids=["another port", "a name that looks alike", "no https", "nobody was verified"],
)
def test_an_answer_from_elsewhere_or_unverified_makes_no_passkey(sqlite_book, device):
    with pytest.raises(Misuse, match="does not hold"):
        made(device)
    assert passkeys.of("cruiser") == []


def test_a_log_in_from_elsewhere_or_by_another_key_is_refused(sqlite_book):
    device, thief = Device(ORIGIN), Device(ORIGIN)
    made(device)
    device.origin = "https://desk.example.evil:8443"
    with pytest.raises(Misuse, match="does not hold"):
        opened(device, NOW + MINUTE)
    thief.name = device.name
    with pytest.raises(Misuse, match="does not hold"):
        opened(thief, NOW + MINUTE)
    with pytest.raises(Misuse, match="does not know the passkey"):
        opened(Device(ORIGIN), NOW + MINUTE)


def test_an_answer_to_another_question_or_too_late_is_refused(sqlite_book):
    device = Device(ORIGIN)
    made(device)
    first, other = passkeys.begin_log_in(ORIGIN, NOW + MINUTE), passkeys.begin_log_in(ORIGIN, NOW + MINUTE)
    with pytest.raises(Misuse, match="does not hold"):
        passkeys.finish_log_in(ORIGIN, other.state, device.open(first.options), NOW + MINUTE)
    with pytest.raises(Misuse, match="too long"):
        opened(device, NOW + 10 * MINUTE, first)


@pytest.mark.parametrize("answer", [{}, {"id": "x"}, {"rawId": "AA", "id": "AA", "type": "public-key", "response": {}}])
def test_an_answer_that_is_none_is_refused_in_words(sqlite_book, answer):
    with pytest.raises(Misuse, match="does not hold"):
        passkeys.finish_log_in(ORIGIN, passkeys.begin_log_in(ORIGIN, NOW).state, answer, NOW)
    with pytest.raises(Misuse, match="does not hold"):
        passkeys.finish("cruiser", "telephone", ORIGIN, passkeys.begin("cruiser", ORIGIN, NOW).state, answer, NOW)


def test_a_passkey_belongs_to_a_name_and_not_to_a_number(sqlite_book):
    with pytest.raises(Misuse, match="belongs to a name"):
        passkeys.begin("cruiser", "https://192.0.2.7:8443", NOW)


def test_an_ended_passkey_opens_nothing(sqlite_book):
    device = Device(ORIGIN)
    made(device)
    passkeys.end(passkeys.of("cruiser")[0]["id"], "cruiser")

    with pytest.raises(Misuse, match="has ended"):
        opened(device, NOW + MINUTE)


def test_what_an_account_gave_out_ends_with_its_password(sqlite_book):
    made(Device(ORIGIN))
    made(Device(ORIGIN), who="other")

    accounts._end_keys("cruiser")

    assert (passkeys.of("cruiser"), len(passkeys.of("other"))) == ([], 1)


def test_without_the_library_the_way_to_install_it_is_said(sqlite_book, monkeypatch):
    for part in ("fido2", "fido2.server", "fido2.webauthn"):
        monkeypatch.setitem(sys.modules, part, None)

    for step in (lambda: passkeys.begin("cruiser", ORIGIN, NOW), lambda: passkeys.begin_log_in(ORIGIN, NOW)):
        with pytest.raises(Misuse, match=r"overwood\[office\]"):
            step()
