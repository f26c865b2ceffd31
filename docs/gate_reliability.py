"""Whether a gate said to open so often opens so often: made-up stands are counted, forecast from the count, and lived through.

`python docs/gate_reliability.py 800` writes docs/gate_reliability.md; a test runs fewer stands."""

from __future__ import annotations

import datetime as dt
import itertools
import sys
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.futures import draws, learning
from overwood.judgement.futures.start import Start, gate_row
from overwood.judgement.rules import Rules
from overwood.science import regeneration as science

Array = NDArray[np.float64]
SEED, PLOTS, WOOD, DRAWS, LIVES = 23, 40, 800, 200, 20
YEARS, WORK = (2, 5, 8), ("left alone", "injected, then cut to 60 ft2/ac")
BOUNDS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
SPACE_AC = 1 / 735
# Demo stand whose canopy, site and deer the made-up stands have; what stands on their floor is their own.
STAND, DAY, TODAY = "S3", dt.date(2025, 10, 15), dt.date(2026, 1, 15)


@dataclass(frozen=True)
class Tried:
    """For each work, year and stand: the chance that was said, and how often the gate opened; shape (works, years, stands)."""

    said: Array
    opened: Array


def wood(rng: np.random.Generator) -> science.Counted:
    """Growing spaces of a made-up stand: oaks clumped, few or many, knee to waist high, among rivals."""
    clumping_k, oaks_ac, height_ft = rng.uniform(0.3, 2.0), np.exp(rng.uniform(np.log(200), np.log(5_000))), rng.uniform(0.7, 1.6)
    each = rng.poisson(rng.gamma(clumping_k, oaks_ac * SPACE_AC / clumping_k, WOOD))
    number = np.minimum(np.maximum(each[:, None] - np.arange(science.SLOTS), 0), 1).astype(float)
    number[:, -1] += np.maximum(each - science.SLOTS, 0)
    heights = np.maximum(rng.gamma(2.0, height_ft, number.shape), 0.3)
    rivals = rng.exponential(2.0, (2, WOOD))
    return science.counted_of(number, heights, np.ones(number.shape), np.zeros(number.shape), rivals)


def history(work: str) -> Array:
    """Work of each year."""
    rows = np.zeros((max(YEARS), len(science.HISTORY)))
    rows[:, 0] = -1.0
    if work != WORK[0]:
        rows[0, science.HISTORY.index("inject")] = 1.0
        rows[1, 0] = 60.0
    return rows


def tried(start: Start, rules: Rules, stands: int) -> Tried:
    """Stands drawn, counted on plots, forecast from that count, and lived through; no two times with the same assumptions."""
    rng = np.random.default_rng(SEED)
    said, opened = (np.zeros((len(WORK), len(YEARS), stands)) for _ in range(2))
    for stand in range(stands):
        whole = wood(rng)
        plots = rng.choice(WOOD, PLOTS, replace=False)
        count = replace(start, counted=science.Counted(whole.stems[plots], whole.ground[plots], whole.crops), plots=PLOTS, per_plot=1)
        # Draws of its own for each stand: an error of one set of draws would be shared by all stands and seen by none.
        said_by, true = (draws.draw_parameters(rules, start.oak_share, many, rng) for many in (DRAWS, LIVES))
        for at, work in enumerate(WORK):
            ahead = learning.simulated(count, history(work), said_by, rules, int(rng.integers(2**31)))
            lives = _lived(start, whole, true, history(work), rules, rng)
            said[at, :, stand], opened[at, :, stand] = (_open(pools) for pools in (ahead, lives))
    return Tried(said, opened)


def _lived(start: Start, whole: science.Counted, parameters: Array, work: Array, rules: Rules, rng: np.random.Generator) -> Array:
    """What comes of all spaces of a stand, several lives with their own luck, counted each time on as many plots."""
    every, gate = np.tile(np.arange(WOOD), (LIVES, 1)), gate_row(rules, seen_share=PLOTS / WOOD)
    records = science.rows(parameters, science.PARAMETERS)
    seeds = rng.integers(0, 2**31 - 1, size=LIVES)
    return np.asarray(science.many_pools(whole, every, start.oaks, work, records, start.row, gate, seeds))


def _open(pools: Array) -> Array:
    return np.asarray((pools[:, list(YEARS), science.SEEN.index("gate")] == 1).mean(axis=0))


def table(found: Tried) -> list[str]:
    """Rows by what was said: stands, mean chance said, how often it opened, and the standard error of the difference by stands."""
    rows = ["| said | cases | mean said % | opened % | error, points |", "|---|---|---|---|---|"]
    for low, high in itertools.pairwise(BOUNDS):
        inside = (found.said >= low) & ((found.said < high) | (high == BOUNDS[-1]))
        if inside.sum() > 1:
            said, opened = found.said[inside], found.opened[inside]
            stands = np.unique(np.nonzero(inside)[2])
            error = 100 * (opened - said).std(ddof=1) / len(stands) ** 0.5
            rows.append(
                f"| {100 * low:.0f} to {100 * high:.0f}% | {inside.sum()} of {len(stands)} stands | {100 * said.mean():.1f} | {100 * opened.mean():.1f} | {error:.1f} |"
            )
    rows.append(
        f"| all | {found.said.size} of {found.said.shape[2]} stands | {100 * found.said.mean():.1f} | {100 * found.opened.mean():.1f} | "
        f"{100 * (found.opened - found.said).mean(axis=(0, 1)).std(ddof=1) / found.said.shape[2] ** 0.5:.1f} |"
    )
    return rows


def page(found: Tried) -> str:
    """The page of the docs."""
    lines = [
        "# How often a gate opens that is said to open\n",
        f"Written by `docs/gate_reliability.py` with {found.said.shape[2]} made-up stands, seed {SEED}: 200 to 5,000 oaks an acre, clumped, knee to waist high,",
        f"under the canopy of demo stand {STAND}. Each is counted once on {PLOTS} plots, and the forecast knows that count alone ({DRAWS} draws of every assumption,",
        f"others for each stand). The stand then lives {LIVES} times, each time with its own draw of every assumption and its own luck.",
        f"In each life it is counted again on {PLOTS} plots, where the release gate is asked.",
        f"Cases are two courses ({'; '.join(WORK)}) in years {', '.join(map(str, YEARS))}. The error is one standard error, the stand being what is sampled.\n",
        *table(found),
        "\nIt shows that the sampling error of counts and the doubt about assumptions are carried rightly, not that the model is right:",
        "for that see [the experiments](experiments.md).\n",
    ]
    return "\n".join(lines)


def demo_start() -> tuple[Start, Rules]:
    """Canopy, site and deer of the demo's stand, from a book made for this."""
    from overwood.desk import answers, importing, session
    from overwood.judgement.evidence import all_figures
    from overwood.judgement.futures.start import start_of

    with tempfile.TemporaryDirectory() as folder:
        session.open_book(Path(folder) / "demo.sqlite3", create=True)
        importing.bring_in(Path(__file__).parent.parent / "demo" / "vesperlick", today=TODAY)
        ask, file = answers.question(DAY), answers.stand_file(STAND).as_of(DAY)
        return start_of(file, all_figures(file, ask.rules, DAY), ask.rules), ask.rules


if __name__ == "__main__":
    stands = int(sys.argv[1]) if len(sys.argv) > 1 else 800
    Path(__file__).with_name("gate_reliability.md").write_text(page(tried(*demo_start(), stands)), encoding="utf-8")
