"""One word opens the desk: the browser is sent to it once it listens, on the usual port or a free one."""

from __future__ import annotations

import socket

import pytest

from overwood.faces.cli.commands import desk, serve
from overwood.faces.served import health, serving


@pytest.fixture
def listener():
    with socket.socket() as listening:
        listening.bind((serving.HOST, 0))
        listening.listen()
        yield listening.getsockname()[1]


def test_the_browser_is_sent_to_the_page_when_the_server_listens(listener, monkeypatch):
    opened = []
    monkeypatch.setattr(serving.webbrowser, "open", opened.append)
    monkeypatch.setattr(serving, "_KNOCK_S", 0.01)

    serving._browse(serving.HOST, listener, "http://page/")

    assert opened == ["http://page/"]


def test_the_browser_is_sent_nowhere_where_nothing_listens(listener, monkeypatch):
    monkeypatch.setattr(serving.webbrowser, "open", lambda page: pytest.fail("it was opened"))
    monkeypatch.setattr(serving, "_KNOCK_S", 0.001)
    monkeypatch.setattr(serving, "_KNOCKS", 3)
    monkeypatch.setattr(serving.socket, "create_connection", _refused)

    serving._browse(serving.HOST, listener, "http://page/")


def _refused(*given, **more):
    raise ConnectionRefusedError


def test_a_taken_port_gives_way_to_a_free_one(listener, monkeypatch):
    monkeypatch.setattr(desk, "_PORT", listener)

    assert desk._own_port(None) not in (0, listener)


def test_a_port_that_was_asked_for_and_is_taken_is_refused(listener):
    with pytest.raises(serve.click.UsageError, match="cannot be listened on"):
        desk._own_port(listener)


def test_a_desk_that_does_not_answer_is_not_healthy():
    with socket.socket() as bound:
        # Bound and not listening: a connection is refused.
        bound.bind((serving.HOST, 0))

        assert not health.answers(bound.getsockname()[1])
