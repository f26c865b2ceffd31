"""overwood futures: what comes back under each course, how sure that is, and what it turns on."""

from __future__ import annotations

import functools
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import asks, prices_option
from overwood.faces.cli.progress import watched
from overwood.ground import measures
from overwood.ground.shell import shell_word

_WARNING = (
    "A bet, not a promise: most numbers behind it were published only in part or not at all. Use it to "
    "compare courses and to see what to measure, "
    "not to read off stems an acre."
)


@click.command("futures")
@click.argument("stand")
@click.option(
    "--futures",
    "count",
    type=click.IntRange(50, 200_000),
    help="Futures of each course; as many as the seed asks for if left out.",
)
@click.option(
    "--sets",
    type=click.IntRange(10, 2_000),
    default=100,
    show_default=True,
    help="Draws of the assumptions from their ranges.",
)
@click.option(
    "--seed", type=click.IntRange(0), default=1, show_default=True, help="The same seed gives the same answer."
)
@click.option(
    "--courses", type=click.Path(path_type=Path), help="Your own courses (TOML); the built-in ones if left out."
)
@click.option(
    "--forecast",
    type=click.Path(path_type=Path),
    help="Write the two-page forecast for the owner as PDF, and keep the result.",
)
@click.option(
    "--age", type=click.IntRange(20, 60), help="Age of the new stand at which oaks are counted; 20 if left out."
)
@click.option("--keep", is_flag=True, help="Keep the result in the book with the versions of rules and data.")
@click.option("--kept", is_flag=True, help="Show the results kept for this stand, and stop.")
@prices_option
@asks
def command(
    stand: str,
    count: int | None,
    sets: int,
    seed: int,
    courses: Path | None,
    forecast: Path | None,
    age: int | None,
    keep: bool,
    kept: bool,
    prices: Path | None,
    ask: Any,
    as_json: bool,
) -> None:
    """Simulate many futures of STAND from its own count: chance of oak, years, who wins, and what the answer turns on.

    The first run after installing compiles once, and says so. Without --futures as many are run as leave no printed
    chance more than a point (one standard error) to the seed.
    """
    from overwood.desk import answers, futures, timber
    from overwood.desk import kept as kept_answers

    if kept:
        _show_kept(stand, kept_answers.all_of(answers.stand_file(stand).stand.stand, "futures"), as_json)
        return
    if words := futures.compiles_first():
        click.echo(f"{words[0].upper()}{words[1:]}.", err=True)
    with watched("futures", count or futures.LEAST) as progress:
        result, file = futures.futures(
            stand,
            ask,
            count=count,
            sets=sets,
            seed=seed,
            courses=courses,
            prices=timber.price_list(prices),
            age_yr=age,
            progress=progress,
        )
    settings = {"count": count, "sets": sets, "seed": seed, "courses": courses.name if courses else ""}
    # What a paper says of itself is found again in the book.
    keeps = keep or (forecast and kept_answers.may_keep())
    with measures.in_units(measures.US):
        made = kept_answers.keep(result.stand, "futures", ask, settings, result) if keeps else None
        named = kept_answers.name_of(made, "futures", result, result.rules_version)
    if forecast:
        from overwood.faces.papers import forecast as paper
        from overwood.faces.papers import press

        with press.printed_from(named):
            paper.write(result, file, ask.on, forecast)
    if as_json:
        output.as_json(result)
        return
    _show(result)
    if made is not None:
        again = f"`overwood futures {shell_word(stand)} --kept`"
        click.echo(f"Kept in the book as answer {made.number}; see them with {again}.")
    if forecast:
        click.echo(f"Forecast for the owner written to {forecast}.")


def _show_kept(stand: str, rows: list[Any], as_json: bool) -> None:
    if as_json:
        output.as_json(rows)
        return
    if not rows:
        click.echo(f"No futures of {stand} are kept. Keep some with `overwood futures {shell_word(stand)} --keep`.")
        return
    table = [
        (
            str(row.number),
            f"{row.made_on:%d %b %Y}",
            row.rules_version,
            "changed since" if row.is_old else "the same",
            outcome["course"]["name"],
            output.of_ten(outcome["oak_stand_chance"]),
        )
        for row in rows
        for outcome in sorted(row.result["outcomes"], key=lambda one: -one["oak_stand_chance"])[:3]
    ]
    output.table(
        ("number", "made", "rulebook", "records", "best three courses", "an oak stand at 20"),
        table,
        title=f"Futures kept for {stand}",
    )


def _show(futures: Any) -> None:
    rows = []
    for outcome in futures.outcomes:
        years = outcome.years_to_release
        low, middle, high = outcome.dominant_oaks_ac
        rows.append(
            (
                outcome.course.name,
                f"{output.of_ten(outcome.oak_stand_chance)} ({100 * outcome.oak_stand_chance:.0f}% ± "
                f"{100 * outcome.oak_stand_error:.1f})",
                f"{10 * outcome.oak_stand_span[0]:.0f} to {10 * outcome.oak_stand_span[1]:.0f}",
                output.of_ten(outcome.oak_part_chance),
                output.of_ten(outcome.adequate_chance),
                "never"
                if years is None
                else f"{years[1]:.0f} ({years[0]:.0f} to {years[2]:.0f})"
                + ("" if outcome.released_chance > 0.995 else f", in {output.of_ten(outcome.released_chance)}"),
                output.span((low, middle, high), 0, "/ac"),
                f"{outcome.years_waited:.1f} ({outcome.crops_missed:.1f})",
                f"{outcome.not_known_share:.0%}",
                *(() if outcome.npv_usd_ac is None else (output.span(outcome.npv_usd_ac, 0, "/ac"),)),
            )
        )
    headings = (
        "course",
        f"an oak stand at {futures.age_yr}",
        "of 10, by what we assume",
        "oak a part of it",
        "enough oak at release",
        "years to release",
        f"dominant oaks/{{ac}} at {futures.age_yr}",
        "years waited for a crop (good ones missed)",
        "spread from not knowing",
        *(() if futures.outcomes[0].npv_usd_ac is None else ("present value, {US$/ac}",)),
    )
    title = (
        f"{futures.stand}: {futures.futures:,} futures of each course from the count {futures.visit}, "
        f"{futures.parameter_sets} draws of the assumptions"
    )
    output.table(headings, rows, title=title)
    best = futures.best.course.name if futures.against_best else ""
    if best:
        gaps = [
            (
                gap.other,
                output.span((gap.span_ac[0], gap.mean_ac, gap.span_ac[-1]), 0, "/ac", "+"),
                output.of_ten(gap.better_share),
                gap.driver,
            )
            for gap in futures.against_best
        ]
        output.table(
            ("instead of", "more dominant oaks/{ac}", "better in", "turns most on"),
            gaps,
            title=f"{best!r} in the same futures",
            numeric=(1,),
        )
        chosen = futures.best
        groups = ", ".join(
            f"{measures.digits(mean, '/ac')} {name}"
            for name, mean in chosen.dominants_by_species_ac.items()
            if mean >= 0.5
        )
        click.echo(
            f"Dominant at {futures.age_yr} under {best!r}, {measures.unit_word('an acre')} on average: "
            f"{groups or 'no oaks'}."
        )
        click.echo(f"Who leads under {best!r}: {_leaders(chosen.leaders_share)}.")
        click.echo(
            f"Published experiments with its steps that the program meets: {chosen.record}; each stands in "
            "docs/experiments.md."
        )
        rows = [(cause.words, cause.entry, f"{cause.first:.2f}", f"{cause.total:.2f}") for cause in futures.causes]
        headings = ("what it turns on", "entry", "alone", "with all it acts with")
        output.table(
            headings,
            rows,
            title=f"Shares of the spread under {best!r} (Sobol indices); measure these first",
            numeric=(2, 3),
        )
    for outcome in futures.outcomes:
        if outcome.planted_per_success is not None:
            cost = "" if outcome.cost_per_success_usd is None else f", US$ {outcome.cost_per_success_usd:,.0f} each"
            click.echo(
                f"{outcome.course.name!r}: {outcome.planted_per_success:.1f} oaks planted for one dominant "
                f"at {futures.age_yr}{cost}."
            )
    look, usual = futures.looking, functools.partial(measures.digits, unit="/ac", form=".1f")
    click.echo(
        f"Worth of looking before you choose, in dominant oaks {measures.unit_word('an acre')}: "
        f"{look.plots_added} more plots {usual(look.more_plots_ac)}; a count a year on "
        f"{usual(look.one_more_count_ac)}; knowing every assumption {usual(look.all_known_ac)}. They change the "
        f"choice in {look.more_plots_change:.0%}, "
        f"{look.one_more_count_changes:.0%} and {look.all_known_changes:.0%} of futures. Near 0 the choice "
        "is clear as it stands."
    )
    output.bullets(
        "Notes",
        [
            *futures.told,
            f"rulebook {futures.rules_version}, seed {futures.seed}; another seed moves no chance by more "
            f"than {100 * futures.seed_error:.1f} points (one standard error)",
        ],
    )
    click.echo(_WARNING)


_GROUPS = {
    "oak": "oak",
    "tolerant": "maple, beech and their like",
    "pioneer": "yellow-poplar, birch and their like",
    "none": "none of these",
}


def _leaders(shares: Any) -> str:
    """Shares of the ground by who leads on it."""
    return ", ".join(
        f"{words} on {shares[name]:.0%} of the ground" for name, words in _GROUPS.items() if shares[name] >= 0.005
    )
