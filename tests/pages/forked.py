"""Servers of the tests' own, forked from one process that has imported the program: each starts in a tenth of the time that importing takes.

What is forked runs the command as it is typed, with the environment it is given. Tests of the command itself start it as a user does.
"""

from __future__ import annotations

import atexit
import functools
import gc
import json
import os
import signal
import socket
import subprocess
import sys
import time
from typing import IO


class Forked:
    """A command under way in a process of its own, asked and ended as a `subprocess.Popen`."""

    def __init__(self, words: list[str], env: dict[str, str], *, cheap: bool):
        out, err, said = os.pipe(), os.pipe(), os.pipe()
        told = json.dumps({"words": words, "env": env, "cheap": cheap}).encode()
        socket.send_fds(_keeper(), [len(told).to_bytes(4, "big")], [out[1], err[1], said[1]])
        _keeper().sendall(told)
        for end in (out, err, said):
            os.close(end[1])
        self.stdout: IO[str] = os.fdopen(out[0])
        self.stderr: IO[str] = os.fdopen(err[0])
        self._said = os.fdopen(said[0], "rb")
        self.pid = int(self._said.readline())
        os.set_blocking(said[0], False)
        self.returncode: int | None = None

    def poll(self) -> int | None:
        if self.returncode is None and (line := self._said.readline()):
            self.returncode = os.waitstatus_to_exitcode(int(line))
            self._said.close()
        return self.returncode

    def wait(self, timeout: float = 300) -> int:
        until = time.monotonic() + timeout
        while self.poll() is None:
            if time.monotonic() > until:
                raise subprocess.TimeoutExpired("a forked command", timeout)
            time.sleep(0.02)
        return self.returncode

    def terminate(self) -> None:
        self._send(signal.SIGTERM)

    def kill(self) -> None:
        self._send(signal.SIGKILL)

    def _send(self, sign: int) -> None:
        if self.poll() is None:
            os.kill(self.pid, sign)


@functools.cache
def _keeper() -> socket.socket:
    """The end of a line to the process that is forked, which ends when this one does."""
    ours, its = socket.socketpair()
    one_thread = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    keeper = subprocess.Popen([sys.executable, __file__, str(its.fileno())], pass_fds=[its.fileno()], env=one_thread)
    its.close()
    atexit.register(lambda: (ours.close(), keeper.wait()))
    return ours


def _imported() -> None:
    import granian  # noqa: F401

    import overwood.desk.office
    import overwood.desk.timber
    import overwood.faces.cli.commands.serve
    import overwood.faces.pages.front
    import overwood.faces.pages.tray
    import overwood.faces.pages.urls
    import overwood.faces.served.certificate  # noqa: F401


def _keep(line: socket.socket) -> None:
    _imported()
    # What is shared stays shared: a look for garbage would touch, and so copy, all of it in each process.
    gc.freeze()
    # The processes between, which wait for a command each, leave nothing behind.
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    while True:
        size, ends, _, _ = socket.recv_fds(line, 4, 3)
        if not size:
            return
        told = json.loads(line.recv(int.from_bytes(size, "big"), socket.MSG_WAITALL))
        if os.fork() == 0:
            signal.signal(signal.SIGCHLD, signal.SIG_DFL)
            line.close()
            _waited(told, *ends)
        for end in ends:
            os.close(end)


def _waited(told: dict, out: int, err: int, said: int) -> None:
    """Fork the command, and say its number and, when it has ended, how."""
    child = os.fork()
    if child == 0:
        os.close(said)
        os.dup2(out, 1)
        os.dup2(err, 2)
        _run(told)
    os.close(out)
    os.close(err)
    os.write(said, b"%d\n" % child)
    os.write(said, b"%d\n" % os.waitpid(child, 0)[1])
    os._exit(0)


def _run(told: dict) -> None:
    from overwood.faces.cli.main import main

    os.environ.clear()
    os.environ.update(told["env"])
    if told["cheap"]:
        # What the program itself spends on a hash is held by the test of accounts made at the machine.
        from django.contrib.auth.hashers import Argon2PasswordHasher

        Argon2PasswordHasher.time_cost, Argon2PasswordHasher.memory_cost, Argon2PasswordHasher.parallelism = 1, 8, 1
    sys.argv = ["overwood", *told["words"]]
    main()
    sys.exit(0)


if __name__ == "__main__":
    _keep(socket.socket(fileno=int(sys.argv[1])))
