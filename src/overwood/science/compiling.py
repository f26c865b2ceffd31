"""How kernels are compiled and where compiled code is kept: apart for each state of the sources it was made from, and
each function by one process at a time.

The compiler's own cache looks at the file of the outermost function only. A kernel that calls a function of another
file would go on running what that file said before a change, so the folder carries a digest of every source the room's
kernels are made of.
"""

from __future__ import annotations

import contextlib
import functools
import gc
import hashlib
import tempfile
import zlib
from collections.abc import Callable, Iterator
from importlib.resources import files
from typing import Any

import numba
from numba import types
from numba.core.compiler_lock import global_compiler_lock
from numba.misc.appdirs import AppDirs

try:
    import fcntl
except ImportError:  # pragma: no cover - a system without them
    fcntl = None  # type: ignore[assignment]

# The rooms whose kernels call functions outside their own folder, and the modules they call; a test holds this against
# the imports.
BEYOND = {"regeneration": ("decisions",)}
_COMPILER: Any = numba.config
_JIT: Any = numba.njit


def digest(room: str) -> str:
    """What the sources of a room's kernels are, as a short word.

    Parameters
    ----------
    room : str
        Folder of the science floor.

    Returns
    -------
    str
        Sixteen hexadecimal digits, others for any change of a source or a table.

    Examples
    --------
    >>> len(digest("fire")), digest("fire") != digest("light")
    (16, True)
    """
    science, whole = files("overwood") / "science", hashlib.sha256()
    sources = [part for part in (science / room).iterdir() if part.name.endswith(".py")]
    sources += [science / f"{module}.py" for module in BEYOND.get(room, ())]
    for source in sorted(sources, key=lambda part: part.name):
        whole.update(source.name.encode() + source.read_bytes())
    return whole.hexdigest()[:16]


@functools.cache
def folder(room: str) -> str:
    """Where the compiled code of a room is kept.

    Parameters
    ----------
    room : str
        Folder of the science floor.

    Returns
    -------
    str
        The user's own compiler cache where it is set, else beside the sources, else (where those cannot be written) the
        user's cache folder.

    Examples
    --------
    >>> folder("fire").endswith(digest("fire"))
    True
    """
    name = f"overwood-{room}-{digest(room)}"
    if _COMPILER.CACHE_DIR:
        return f"{_COMPILER.CACHE_DIR}/{name}"
    beside: Any = files("overwood") / "science" / room / "__pycache__"
    try:
        # Where Python was told to write no byte code, the folder is not there yet.
        beside.mkdir(exist_ok=True)
        with tempfile.TemporaryFile(dir=beside):
            return f"{beside}/{name}"
    except OSError:
        return f"{AppDirs(appname='overwood', appauthor=False).user_cache_dir}/{name}"


def kernel(room: str, *, effort: int | None = None, **options: Any) -> Callable[[Callable[..., Any]], Any]:
    """A decorator that compiles a function of a room at its first call and keeps the result on disk.

    Parameters
    ----------
    room : str
        Folder of the science floor whose sources the function is made of.
    effort : int, optional
        How hard the compiler tries, 0 to 3; the most if left out.
    **options : object
        Options of the compiler.

    Returns
    -------
    callable
        The decorator.

    Examples
    --------
    >>> kernel("fire")(lambda x: 2 * x)(4)
    8
    """

    def compiled(function: Callable[..., Any]) -> Any:
        before, _COMPILER.CACHE_DIR = _COMPILER.CACHE_DIR, folder(room)
        try:
            return _once(_JIT(cache=True, no_cfunc_wrapper=True, **options)(function), effort, folder(room))
        finally:
            _COMPILER.CACHE_DIR = before

    return compiled


def _once(dispatcher: Any, effort: int | None, kept: str) -> Any:
    """A kernel that other kernels compile once for all constants (by itself the compiler makes one for each), and
    quickly."""
    template, compile_one = dispatcher.get_call_template, dispatcher.compile

    def of_types(args: tuple[Any, ...], named: dict[str, Any]) -> Any:
        return template(
            tuple(map(types.unliteral, args)), {name: types.unliteral(kind) for name, kind in named.items()}
        )

    def quickly(signature: Any) -> Any:
        with global_compiler_lock, _alone(kept, dispatcher.py_func), _quick(effort):
            return compile_one(signature)

    dispatcher.get_call_template, dispatcher.compile = of_types, quickly
    return dispatcher


@contextlib.contextmanager
def _alone(kept: str, function: Callable[..., Any]) -> Iterator[None]:
    """Waits where another process compiles the same function, and then finds what that one kept. Callers come before
    what they call, so no two wait for each other; where a file system knows no locks, both compile."""
    place = zlib.crc32(f"{function.__module__}.{function.__qualname__}".encode())
    held = None
    if fcntl is not None:
        with contextlib.suppress(OSError):
            fcntl.lockf(_locks(kept), fcntl.LOCK_EX, 1, place)
            held = _locks(kept)
    try:
        yield
    finally:
        if held is not None:
            fcntl.lockf(held, fcntl.LOCK_UN, 1, place)


@functools.cache
def _locks(kept: str) -> Any:
    """The file whose bytes stand for the functions of a room; closing it once would let go of all of them."""
    return open(f"{kept}/locks", "ab")


@contextlib.contextmanager
def _quick(effort: int | None) -> Iterator[None]:
    """No look for garbage after every few thousand of the objects that compiling makes, and no more effort than asked
    for."""
    collects, before = gc.isenabled(), _COMPILER.OPT
    gc.disable()
    _COMPILER.OPT = before if effort is None else type(before)(effort)
    try:
        yield
    finally:
        _COMPILER.OPT = before
        if collects:
            gc.enable()
