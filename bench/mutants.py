"""Changes one thing at a time in science and judgement and asks whether the tests notice: `python bench/mutants.py [COUNT]`
(COUNT changes by each seed; 0 tries the named ones alone and leaves the page).

Two lists: changes drawn with a seed over the modules below (a comparison turned or moved to its edge, a sum turned into a
difference, a product into a quotient, a number raised by a fifth, a condition denied), and named changes that tests once let
pass. Each runs the tests of its module; those that live are printed. The score goes to docs/mutants.md.
"""

from __future__ import annotations

import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = Path("src/overwood")
PAGE = ROOT / "docs/mutants.md"
SEEDS = (1, 2)
WORKERS = 2
# Modules with the tests that are to notice, the quick ones first.
MODULES: dict[str, tuple[str, ...]] = {
    "judgement/gates/__init__.py": ("tests/judgement/test_edges.py", "tests/judgement/course/test_course.py"),
    "judgement/gates/maturity.py": ("tests/judgement/test_edges.py", "tests/judgement/course/test_course.py"),
    "judgement/evidence/growing.py": ("tests/science/test_growth.py", "tests/judgement/money/test_choices.py"),
    "judgement/fire/gates.py": ("tests/judgement/test_edges.py", "tests/judgement/fire/test_burn.py"),
    "judgement/fire/pool.py": ("tests/published/test_practice.py", "tests/judgement/fire/test_burn.py"),
    "judgement/fire/harm.py": ("tests/judgement/fire/test_burn.py",),
    "judgement/injection.py": ("tests/judgement/test_injection.py",),
    "judgement/gates/windows.py": ("tests/judgement/gates/test_windows.py",),
    "judgement/marking/residual_check.py": ("tests/judgement/marking/test_residual_check.py",),
    "judgement/course/due.py": ("tests/judgement/test_edges.py", "tests/judgement/course/test_course.py"),
    "judgement/evidence/acorns.py": ("tests/judgement/evidence/test_acorns.py",),
    "judgement/evidence/reproduction.py": ("tests/judgement/evidence/test_reproduction.py", "tests/judgement/evidence/test_oak_verdict.py"),
    "science/growth.py": ("tests/science/test_growth.py", "tests/science/test_growth_a_line.py", "tests/published/test_published.py"),
    "science/fire/trees.py": ("tests/science/test_fire.py", "tests/published/test_published.py"),
    "science/money.py": ("tests/judgement/money/test_choices.py", "tests/published/test_published.py", "tests/peers/test_scipy.py"),
    "science/overstory.py": ("tests/science/test_shapes.py", "tests/judgement/evidence/test_overstory.py", "tests/published/test_published.py"),
    "science/decisions.py": ("tests/judgement/evidence/test_oak_verdict.py", "tests/published/test_published.py"),
    "science/sequential.py": ("tests/science/test_sequential.py", "tests/published/test_published.py", "tests/peers/test_scipy.py"),
    "science/survey.py": ("tests/science/test_shapes.py", "tests/published/test_published.py", "tests/peers/test_r_survey.py", "tests/peers/test_scipy.py"),
    "science/injection.py": ("tests/judgement/test_injection.py", "tests/published/test_published.py"),
    "science/acorns.py": ("tests/judgement/evidence/test_acorns.py", "tests/science/test_shapes.py", "tests/published/test_published.py"),
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change of a module: the text from one offset to another gives way to a new one."""

    module: str
    start: int
    end: int
    new: str
    line: int
    old: str


# Changes that the tests once let pass, as the text before and after.
NAMED = (
    ("science/overstory.py", "100 * np.pi / 4 *", "100 * np.pi / 3 *"),
    ("science/fire/trees.py", "- 5.35 * scorch", "- 5.0 * scorch"),
    ("science/sequential.py", "1 - 2 * error / looks\n", "1 - error / looks\n"),
    ("judgement/gates/maturity.py", " and middle.number <= few:", ":"),
    ("judgement/gates/maturity.py", "ba.number < c_line.number", "ba.number < c_line.number / 2"),
    (
        "judgement/gates/__init__.py",
        "YES if YES in parts else NO if parts == {NO} else UNSURE",
        "YES if parts == {YES} else NO if NO in parts else UNSURE",
    ),
    ("judgement/gates/__init__.py", "if early or share.n < int", "if early and share.n < int"),
    ("judgement/fire/gates.py", "heavy / looked <= limit", "heavy / looked <= 2 * limit"),
    ("judgement/course/due.py", "low <= age + 1 <= high", "low <= age <= high"),
    ("judgement/injection.py", 'rules.number("injection_day_hours") * crew', 'rules.number("injection_day_hours")'),
    ("judgement/fire/harm.py", "np.minimum(death + (wound", "np.minimum(2 * death + (wound"),
    ("judgement/fire/harm.py", "lost = rows", "lost = 2 * rows"),
    ("judgement/evidence/acorns.py", "(insects[0], insects[2], insects[1])", "insects"),
    ("judgement/marking/residual_check.py", "low <= ends[0]", "low < ends[0]"),
    ("judgement/fire/gates.py", "(row.ended_on or row.started_on) <= planned_on", "(row.ended_on or row.started_on) < planned_on"),
    ("judgement/gates/__init__.py", "tall.number == 0", "tall.number != 0"),
    ("judgement/gates/__init__.py", "        if one.measured\n", "        if not one.measured\n"),
    ("judgement/gates/__init__.py", "left / float(pace.high or 1)", "left * float(pace.high or 1)"),
    (
        "judgement/gates/__init__.py",
        'a walk through with the owner of the decision." if answer == UNSURE',
        'a walk through with the owner of the decision." if answer != UNSURE',
    ),
    ("judgement/injection.py", "size < len(sizes) - 1", "size <= len(sizes) - 1"),
    ("judgement/marking/residual_check.py", "high <= limit", "high < limit"),
    ("judgement/fire/gates.py", "boards * evidence.trees_per_ac", "boards / evidence.trees_per_ac"),
    ("judgement/evidence/acorns.py", "mean * (1 - error), mean", "mean * (1 + error), mean"),
    ("judgement/gates/__init__.py", 'collars on more plots." if answer == UNSURE', 'collars on more plots." if answer != UNSURE'),
    ("science/acorns.py", "years.sum() / len(years) if len(years) else", "1.0 if len(years) else"),
    ("judgement/gates/__init__.py", "crop.number >= limit", "crop.number > limit"),
    ("judgement/gates/__init__.py", "started_on > visit.visited_on", "started_on >= visit.visited_on"),
    ("judgement/gates/__init__.py", "(answer == YES) == asked", "(answer != YES) == asked"),
    ("judgement/gates/windows.py", "injected.year + 1", "injected.year - 1"),
    ("judgement/fire/gates.py", "boards >= limit", "boards > limit"),
    ("judgement/fire/harm.py", "float(leave) * minutes / 60", "float(leave) * minutes * 60"),
    ("science/acorns.py", "if bearing_share >= limit", "if bearing_share > limit"),
)

_COMPARED = {ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "=="}
_COUNTED = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*"}


def _offsets(text: str) -> list[int]:
    starts = [0]
    for line in text.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    return starts


def _changes(node: ast.AST, text: str) -> str | None:
    """The new text of a node, or None where it has no change here."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in _COMPARED:
        left, right = (ast.get_source_segment(text, part) for part in (node.left, node.comparators[0]))
        return f"(({left}) {_COMPARED[type(node.ops[0])]} ({right}))"
    if isinstance(node, ast.BinOp) and type(node.op) in _COUNTED:
        left, right = (ast.get_source_segment(text, part) for part in (node.left, node.right))
        return f"(({left}) {_COUNTED[type(node.op)]} ({right}))"
    if isinstance(node, ast.Constant) and isinstance(node.value, float) and node.value:
        return repr(node.value * 1.2)
    if isinstance(node, ast.IfExp):
        body, test, other = (ast.get_source_segment(text, part) for part in (node.body, node.test, node.orelse))
        return f"(({body}) if not ({test}) else ({other}))"
    return None


def mutants_of(module: str) -> list[Mutant]:
    """Every change of a module this script knows, type hints and text left alone."""
    text = (ROOT / PACKAGE / module).read_text(encoding="utf-8")
    starts, found = _offsets(text), []
    for node in (node for node in ast.walk(ast.parse(text)) if isinstance(node, ast.expr)):
        new = _changes(node, text)
        if new is None or not text.isascii() or _is_text(node):
            continue
        start = starts[node.lineno - 1] + node.col_offset
        end = starts[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or node.col_offset)
        found.append(Mutant(module, start, end, new, node.lineno, text[start:end]))
    return found


def _is_text(node: ast.AST) -> bool:
    """Sums of texts and unions of tables are no numbers."""
    return isinstance(node, ast.BinOp) and any(isinstance(part, ast.JoinedStr | ast.Dict | ast.List | ast.Tuple) or
        (isinstance(part, ast.Constant) and isinstance(part.value, str)) for part in (node.left, node.right))  # fmt: skip


def named() -> list[Mutant]:
    """The named changes; one whose text is gone is a fault."""
    result = []
    for module, old, new in NAMED:
        text = (ROOT / PACKAGE / module).read_text(encoding="utf-8")
        start = text.find(old)
        if start < 0:
            raise SystemExit(f"{module} no longer holds {old!r}: mend the list of named changes")
        result.append(Mutant(module, start, start + len(old), new, text[:start].count("\n") + 1, old))
    return result


def is_noticed(mutant: Mutant, copy: Path) -> bool:
    """Whether a test of the module fails once the change is in the copy of the sources."""
    file = copy / "overwood" / mutant.module
    whole = file.read_text(encoding="utf-8")
    file.write_text(whole[: mutant.start] + mutant.new + whole[mutant.end :], encoding="utf-8")
    try:
        examples = [("tests/science/test_doctests.py", "-k", file.stem)] if mutant.module.startswith("science/") else []
        return any(_fails(tests, copy) for tests in [*((tests,) for tests in MODULES[mutant.module]), *examples])
    finally:
        file.write_text(whole, encoding="utf-8")


def _fails(tests: tuple[str, ...], copy: Path) -> bool:
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
    # Byte code of each copy lies apart: what is unchanged is compiled once, and a change is another size or second.
    environment = os.environ | {"PYTHONPATH": str(copy), "PYTHONPYCACHEPREFIX": str(copy / "byte code")}
    try:
        ended = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, timeout=300, check=False).returncode
    except subprocess.TimeoutExpired:
        # A change that never ends is noticed.
        return True
    # 5 is no test at all; a module that can no longer be read is noticed.
    return ended not in (0, 5)


def page(drawn: list[tuple[Mutant, bool]], known: list[tuple[Mutant, bool]]) -> str:
    """The score, by module, with what lives."""
    lines = ["| module | changes | noticed |", "|---|---|---|"]
    for module in MODULES:
        seen = [noticed for mutant, noticed in drawn if mutant.module == module]
        if seen:
            lines.append(f"| `{module}` | {len(seen)} | {sum(seen)} |")
    alive = [
        f"- `{m.module}` line {m.line}: `{' '.join(m.old.split())}` to `{' '.join(m.new.split())}`"
        for m, noticed in drawn + known
        if not noticed
    ]
    share = sum(noticed for _, noticed in drawn) / len(drawn)
    return (
        "<!-- written by bench/mutants.py -->\n\n# What the tests notice\n\n"
        f"`python bench/mutants.py` (seeds {' and '.join(map(str, SEEDS))}) made {len(drawn)} changes, one at a time, in science and judgement and ran the tests of the module: "
        f"{sum(noticed for _, noticed in drawn)} were noticed ({share:.0%}). Only the tests named in the script run, not the whole suite; modules compiled for speed are not in it. "
        f"Of {len(known)} named changes that tests once let pass {sum(noticed for _, noticed in known)} are noticed.\n\n"
        + "\n".join(lines) + "\n\n## What lives\n\n" + ("\n".join(alive) or "Nothing.") + "\n"
    )  # fmt: skip


def main(count: int) -> None:
    """Draw, run, print and write the page, anew after every change so that a stopped run keeps what it has."""
    gone = [tests for names in MODULES.values() for tests in names if not (ROOT / tests).is_file()]
    if gone:
        raise SystemExit(f"no such tests: {', '.join(gone)}")
    pool = [mutant for module in MODULES for mutant in mutants_of(module)]
    drawn = list(dict.fromkeys(one for seed in SEEDS for one in random.Random(seed).sample(pool, min(count, len(pool)))))
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(WORKERS) as workers:
        copies: SimpleQueue[Path] = SimpleQueue()
        for number in range(WORKERS):
            copy = Path(folder) / str(number)
            shutil.copytree(ROOT / PACKAGE, copy / "overwood", ignore=shutil.ignore_patterns("__pycache__"))
            copies.put(copy)
        tried = [*named(), *drawn]
        results: list[tuple[Mutant, bool]] = []
        for mutant, noticed in zip(tried, workers.map(lambda one: _in_a_copy(one, copies), tried), strict=True):
            results.append((mutant, noticed))
            print("noticed" if noticed else "LIVES", f"{mutant.module}:{mutant.line} {mutant.old!r} -> {mutant.new!r}", flush=True)
            if len(results) > len(NAMED):
                PAGE.write_text(page(results[len(NAMED) :], results[: len(NAMED)]), encoding="utf-8")


def _in_a_copy(mutant: Mutant, copies: SimpleQueue[Path]) -> bool:
    copy = copies.get()
    try:
        return is_noticed(mutant, copy)
    finally:
        copies.put(copy)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
