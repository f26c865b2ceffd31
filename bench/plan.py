"""The solver of the plan: equality with trying every choice on 200 cases of four stands, planning anew each year beside a plan made once,
and CPU seconds for 8, 100 and 500 stands.

Columns are invented; run it as `python bench/plan.py`. `python bench/plan.py whole 500 60` makes the plan of 500 made-up stands from their
records, with the futures of 60 kinds.
"""

from __future__ import annotations

import csv
import dataclasses
import resource
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

import plans
import rolling
from overwood.judgement.plan import check, model, solving
from overwood.judgement.plan.limits import Limits, periods

_CASES = 200
_YEARS, _GAP, _SECONDS = 20, 0.01, 400.0
_COURSES, _LATEST_START = 8, 15
DRAWS = 100
_MEASURED = Path(__file__).resolve().parent.parent / "docs" / "plan_measured.csv"


def brute() -> None:
    """Every choice of four stands, 200 times."""
    equal = 0
    for seed in range(_CASES):
        columns = plans.invented(4, 2, (0, 1, 2), 6, seed, draws=20)
        limits, touching = plans.bound_by(columns, 6, seed)
        found, by_hand = plans.planned(columns, limits, touching)[1], plans.best_by_hand(columns, limits, touching)
        equal += (found is None and by_hand is None) or (found is not None and abs(found.objective - by_hand) < 1e-6)
    print(f"four stands: equal to the best of all choices in {equal} of {_CASES} cases")


def anew() -> None:
    """Planning anew each autumn on ten crop paths of three properties, beside cuts in fixed years and cuts that wait for a crop."""
    for words, wait in (("cuts in fixed years", 0), ("cuts that wait up to 3 years for a good crop", 3)):
        found = [rolling.compared(8, 8, 10, seed, wait) for seed in (1, 2, 3)]
        better = [sum(anew > once + 1e-9 for once, anew in paths) for paths in found]
        once, again = (sum(pair[way] for paths in found for pair in paths) / 30 for way in (0, 1))
        print(f"planned anew beside {words}: better on {better} of 10 paths, {again:.0f} acres of oak beside {once:.0f}")


def size(stands: int, largest_ac: float = 0) -> None:
    """One property: expected loads bind, rows of stands touch like squares of a board, a quarter stays old; touching stands
    are not opened within three years, or only up to the largest opening."""
    starts = [first for first, _ in periods(_YEARS) if first <= _LATEST_START]
    columns = plans.invented(stands, _COURSES, starts, _YEARS, seed=stands, draws=100)
    acres = sum({column.stand: column.area_ac for column in columns}.values())
    wide = max(2, int(stands**0.5))
    pairs = [(f"S{n + 1}", f"S{n + 2}") for n in range(stands - 1) if (n + 1) % wide] + [
        (f"S{n + 1}", f"S{n + wide + 1}") for n in range(stands - wide)
    ]
    limits = Limits(
        years=_YEARS, crew_days=(acres / 3 / _YEARS,) * _YEARS, burn_days=(max(1.0, stands / 20),) * _YEARS,
        apart_yr=3, largest_ac=largest_ac, opening_chance=0.1, old_share=0.25, old_age_yr=85,
    )  # fmt: skip
    begun = time.process_time()
    made = model.model_of(columns, limits, pairs, plans.BEGIN, plans.LEAST)
    built = time.process_time()
    found = solving.solve(made, made.oak, solving.Solver(gap=_GAP, seconds=_SECONDS))
    solved = time.process_time()
    assert found is not None
    breaches = check.breaches([columns[place] for place in found.chosen], model.places_of(columns), limits, pairs, plans.BEGIN)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{stands} stands, largest opening {largest_ac or 'one stand'}, {len(columns):,} columns, {len(made.rows):,} rows: gap {found.gap:.2%}, {solved - built:.1f} s CPU "
        f"(and {built - begun:.1f} s for the rows), peak {peak:.0f} MB, {len(breaches)} limits broken"
    )
    opening = f"{largest_ac:.0f} acres" if largest_ac else "one stand"
    _note(f"{stands} stands", f"{len(columns):,}", opening, f"{max(found.gap, 0):.2%}", f"{solved - begun:.1f}", f"{peak:.0f} MB")


def _note(*row: str) -> None:
    """Lay a measured row in the table that docs/generate.py puts into docs/plan.md, in the place of that of the same property."""
    rows: list[list[str]] = [[*row], *(old for old in csv.reader(_MEASURED.open(encoding="utf-8")) if (old[0], old[2]) != (row[0], row[2]))]
    rows.sort(key=lambda one: (int(one[0].split()[0]), one[2] != "one stand"))
    with _MEASURED.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out, lineterminator="\n").writerows(rows)


def whole(stands: int, kinds: int) -> None:
    """Made-up records of so many stands to a plan: advice, futures of so many kinds, search, judgement on each stand's own futures."""
    import synthetic
    from overwood.desk import plan as desk
    from overwood.desk.question import question
    from overwood.ground.errors import NotFound
    from overwood.ground.records import StandFile
    from overwood.judgement.course import advise
    from overwood.judgement.futures import courses
    from overwood.judgement.plan import schedule
    from overwood.judgement.plan.answer import Plan
    from overwood.judgement.plan.columns import Plot

    ask, seed = question(synthetic.ON, None), 0
    files: list[StandFile] = []
    plots: list[Plot] = []
    while len(plots) < stands:
        file, seed = synthetic.stand_file(seed), seed + 1
        try:
            plots.append(dataclasses.replace(desk._plot(file, ask), stand=f"S{len(plots) + 1}"))
        except NotFound:
            continue
        files.append(file)
    begun, names = time.process_time(), [plot.stand for plot in plots]
    advice = {name: advise(file, ask.rules, ask.on) for name, file in zip(names, files, strict=True)}
    wide = max(2, int(stands**0.5))
    pairs = [(names[n], names[n + 1]) for n in range(stands - 1) if (n + 1) % wide] + [
        (names[n], names[n + wide]) for n in range(stands - wide)
    ]
    acres = sum(plot.area_ac for plot in plots)
    limits = Limits(years=_YEARS, crew_days=(acres / 3 / _YEARS,) * _YEARS, apart_yr=3, largest_ac=120, opening_chance=0.1)
    land = schedule.Property(
        plots=tuple(plots), advice=advice, marks={}, not_planned=(), touching=tuple(pairs), without_outline=(), price_list=""
    )
    terms = schedule.Terms(
        on=ask.on, rules=ask.rules, courses=courses.load(None), limits=limits, draws=DRAWS, paths=200, seed=1, kinds=kinds,
        solver=solving.Solver(gap=_GAP, seconds=_SECONDS),
    )  # fmt: skip
    made = schedule.make_plan(land, terms, lambda done, note: True)
    assert isinstance(made, Plan)
    took, peak = time.process_time() - begun, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{stands} stands from their records, {kinds} kinds: {took:.0f} CPU s, gap {made.gap:.2%}, peak {peak:.0f} MB")
    print(
        f"  {made.judged.oak_ac:.0f} acres of oak stand of {made.acres:.0f} by each stand's own futures, {made.oak_ac:.0f} by those it was chosen by"
    )
    for words, shared in (("their kind's", True), ("their own", False)):
        off = [abs(one.oak_chance - one.drawn_chance) for one in made.stands if bool(one.kind) == shared and one.begins is not None]
        far = [one.kind_distance for one in made.stands if bool(one.kind) == shared]
        if off:
            print(
                f"  planned by {words} futures: {len(far)} stands, chance of a chosen course off by {100 * sum(off) / len(off):.1f} points in "
                f"the mean, {100 * sorted(off)[int(0.9 * len(off))]:.0f} in one of ten; {sum(far) / len(far):.2f} standard deviations away"
            )


if __name__ == "__main__":
    if sys.argv[1:2] == ["whole"]:
        whole(int(sys.argv[2]), int(sys.argv[3]))
        sys.exit()
    wanted = [int(word) for word in sys.argv[1:]] or [8, 100, 500]
    if len(sys.argv) == 1:
        brute()
        anew()
    for count in wanted:
        size(count)
        size(count, largest_ac=80.0)
