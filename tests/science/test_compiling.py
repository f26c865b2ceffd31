"""Compiled code is that of the sources that lie there now."""

from __future__ import annotations

import ast
import importlib
import subprocess
import sys
import textwrap
import threading
import zlib

import numba
import pytest

from conftest import ROOT
from overwood.science import compiling

SCIENCE = ROOT / "src" / "overwood" / "science"
ROOMS = ("canopy", "fire", "light", "regeneration")


def compiled_sources(room):
    return [
        path for path in (SCIENCE / room).glob("*.py") if "@kernel" in (text := path.read_text()) or "@comp" in text or "compiled(" in text
    ]


@pytest.mark.parametrize("room", ROOMS)
def test_what_kernels_take_from_beyond_their_room_is_in_its_digest(room):
    beyond = set()
    for path in compiled_sources(room):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("overwood.science"):
                names = [node.module, *(f"{node.module}.{name.name}" for name in node.names)]
                parts = {name.split(".")[2] for name in names if name.count(".") >= 2}
                beyond |= parts - {room, "compiling"}
    assert beyond == set(compiling.BEYOND.get(room, ()))


@pytest.mark.parametrize("room", ROOMS)
def test_every_kernel_of_a_room_is_kept_under_its_digest(room):
    kept = []
    for path in compiled_sources(room):
        module = importlib.import_module(f"overwood.science.{room}.{path.stem}")
        kept += [one.stats.cache_path for one in vars(module).values() if isinstance(one, numba.core.dispatcher.Dispatcher)]
    assert kept and all(compiling.digest(room) in path for path in kept)


def test_a_kernel_compiles_once_for_all_constants():
    @compiling.kernel("fire")
    def inner(x, which, times):
        return which * x if times else x

    @compiling.kernel("fire")
    def outer(x):
        return inner(x, 1, True) + inner(x, 2, False) + inner(x, 3, x > 0)

    assert outer(1.0) == 5.0
    assert len(inner.signatures) == 1


def test_no_other_module_keeps_compiled_code_of_its_own():
    assert [path for path in (ROOT / "src").rglob("*.py") if "numba.njit" in path.read_text()] == [SCIENCE / "compiling.py"]


@pytest.mark.slow
def test_a_changed_helper_changes_the_kernel_that_calls_it(tmp_path):
    # A package of its own: a kernel in one file calls a function of another, which changes between two runs.
    science = tmp_path / "overwood" / "science"
    (science / "fire").mkdir(parents=True)
    for folder in (tmp_path / "overwood", science, science / "fire"):
        (folder / "__init__.py").touch()
    (science / "compiling.py").write_bytes((SCIENCE / "compiling.py").read_bytes())
    (science / "fire" / "outer.py").write_text(
        textwrap.dedent("""
        from overwood.science.compiling import kernel
        from overwood.science.fire import inner

        help = kernel("fire")(inner.help)

        @kernel("fire")
        def outer(x):
            return help(x)
        """)
    )
    said = []
    for factor in (2, 3):
        (science / "fire" / "inner.py").write_text(f"def help(x):\n    return {factor} * x\n")
        words = "from overwood.science.fire.outer import outer; print(outer(10))"
        done = subprocess.run(
            [sys.executable, "-B", "-c", words],
            cwd=tmp_path,
            env={"PYTHONPATH": str(tmp_path), "HOME": str(tmp_path)},
            capture_output=True,
            text=True,
            check=True,
        )
        said.append(int(done.stdout))
    assert said == [20, 30]


def test_compiled_code_is_kept_beside_its_sources_where_python_writes_no_byte_code(tmp_path, monkeypatch):
    (tmp_path / "science" / "fire").mkdir(parents=True)
    (tmp_path / "science" / "fire" / "one.py").write_text("A = 1\n")
    monkeypatch.setattr(compiling, "files", lambda _: tmp_path)
    monkeypatch.setattr(compiling._COMPILER, "CACHE_DIR", "")

    assert compiling.folder.__wrapped__("fire").startswith(str(tmp_path / "science" / "fire" / "__pycache__"))


def test_a_function_that_another_process_compiles_is_waited_for(tmp_path):
    def mine():
        """Stands for a kernel."""

    place = zlib.crc32(f"{mine.__module__}.{mine.__qualname__}".encode())
    script = (
        "import fcntl, sys; fcntl.lockf(held := open(sys.argv[1], 'ab'), fcntl.LOCK_EX, 1, int(sys.argv[2])); print(flush=True); input()"
    )
    done = threading.Event()

    def compile_it():
        with compiling._alone(str(tmp_path), mine):
            done.set()

    command = [sys.executable, "-c", script, str(tmp_path / "locks"), str(place)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as other:
        other.stdout.readline()
        waiting = threading.Thread(target=compile_it)
        waiting.start()
        assert not done.wait(0.2)
        other.communicate(b"done\n")
        assert done.wait(10)
        waiting.join()


def test_where_a_file_system_knows_no_locks_each_process_compiles(tmp_path):
    with compiling._alone(str(tmp_path / "nowhere"), print):
        pass
