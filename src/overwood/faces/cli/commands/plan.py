"""overwood plan: what to do where and when across the whole property."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import OutFile, asks, prices_option
from overwood.faces.cli.progress import watched
from overwood.ground import measures
from overwood.ground.errors import OverwoodError

_PATH = click.Path(path_type=Path)


@click.command("plan")
@click.option(
    "--limits",
    "limits_file",
    type=_PATH,
    help="Your limits (TOML): crews, burn days, money, openings, old trees, pins.",
)
@click.option("--new-limits", type=OutFile(), help="Write a file of limits to fill in, and stop.")
@click.option("--years", type=click.IntRange(5, 20), help="Years planned; those of the limits, else 10.")
@click.option(
    "--burn-weather",
    type=_PATH,
    help="Hourly weather: burn days a year are counted from it, where the limits name none.",
)
@click.option(
    "--value-at-least",
    type=float,
    help="Present value the plan must be worth, US$; see the curve of a plan with prices.",
)
@click.option("--courses", type=_PATH, help="Your own courses (TOML); the built-in ones if left out.")
@click.option(
    "--draws", type=click.IntRange(20, 2_000), default=100, show_default=True, help="Futures of each course and start."
)
@click.option(
    "--paths", type=click.IntRange(50, 2_000), default=200, show_default=True, help="Fresh paths that judge the plan."
)
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="The same seed gives the same plan.")
@click.option(
    "--search", type=click.FloatRange(1, 3_600), default=120, show_default=True, help="Seconds of search at the most."
)
@click.option(
    "--kinds",
    type=click.IntRange(4, 500),
    default=500,
    show_default=True,
    help="Of so many kinds of stand futures are run; more stands are planned by the one most like them: much sooner, "
    "and the less well the fewer kinds.",
)
@click.option("--keep", is_flag=True, help="Keep the plan in the book; the next one says what moved.")
@click.option("--kept", is_flag=True, help="Show the plan kept last, and stop.")
@click.option(
    "--orders", "orders_file", type=OutFile(), help="Write the orders of the first year as PDF, and keep the plan."
)
@click.option(
    "--calendar", "calendar_file", type=OutFile(), help="Write the works of five years as a calendar file (iCalendar)."
)
@prices_option
@asks
def command(
    ask: Any,
    as_json: bool,
    limits_file: Path | None,
    new_limits: Path | None,
    kept: bool,
    keep: bool,
    orders_file: Path | None,
    calendar_file: Path | None,
    **told: Any,
) -> None:
    """Plan every stand of the property: which course, begun when, under your crews, burn days, money and openings.

    The first year is orders, the next four a plan, later a sketch. The plan makes acres of oak stand as many as can be,
    from simulated futures of every stand; it is judged on fresh ones that all stands share. Nothing binds that your
    limits do not name.
    """
    from overwood.desk import kept as kept_answers
    from overwood.desk import plan as desk
    from overwood.desk import question

    if new_limits:
        desk.write_limits(new_limits)
        click.echo(
            f"Limits to fill in are written to {new_limits}: take the # off what binds you, then give "
            f"--limits {new_limits}."
        )
        return
    if kept:
        _show_kept(desk.newest(), as_json)
        return
    ask = question.priced(ask, told["prices"])
    asked = desk.PlanAsked(
        limits=desk.limits(limits_file, ask, years=told["years"], value_at_least_usd=told["value_at_least"]),
        courses=told["courses"], draws=told["draws"], paths=told["paths"], seed=told["seed"], kinds=told["kinds"],
        search_s=told["search"],
    )  # fmt: skip
    if told["burn_weather"]:
        asked = desk.with_burn_days(asked, ask, told["burn_weather"])
    with watched("plan", desk.steps()) as progress:
        made = measures.kept_in_us(lambda: desk.make(asked, ask, lambda done, _: progress(done)), OverwoodError)
    keeps = keep or (orders_file and kept_answers.may_keep())
    with measures.in_units(measures.US):
        answer = desk.keep(made, ask, asked) if keeps and isinstance(made, desk.Plan) else None
    if orders_file and isinstance(made, desk.Plan):
        _write_orders(made, answer, orders_file)
    if calendar_file and isinstance(made, desk.Plan):
        _write_calendar(made, calendar_file)
    if as_json:
        output.as_json(made)
    elif isinstance(made, desk.Plan):
        show(made)
        click.echo(
            f"Kept in the book as answer {answer.number}; see it with `overwood plan --kept`."
            if answer
            else "Not kept; keep it with --keep."
        )
    if not isinstance(made, desk.Plan):
        _refuse(made, as_json)


def _write_orders(plan: Any, answer: Any, target: Path) -> None:
    from overwood.desk import kept as kept_answers
    from overwood.faces.papers import press, year_orders

    with measures.in_units(measures.US):
        named = kept_answers.name_of(answer, "plan", plan, plan.rules_version)
    with press.printed_from(named):
        year_orders.write(plan, target)


def _write_calendar(plan: Any, target: Path) -> None:
    from overwood.desk import calendar

    target.write_bytes(calendar.text(telling().seasons(plan), plan.on))


def _refuse(refusal: Any, as_json: bool) -> None:
    lines = "\n".join(f"  - {line}" for line in telling().clashes(refusal))
    remedy = "Loosen any one of them; the others can then be kept."
    raise OverwoodError(
        "no plan keeps all your limits. These clash:\n" + lines if not as_json else "no plan keeps all limits.",
        remedy=remedy,
    )


def telling() -> Any:
    """The words of a plan, which page and paper share."""
    from overwood.faces.telling import planned

    return planned


def _show_kept(newest: Any, as_json: bool) -> None:
    if newest is None:
        click.echo("No plan is kept. Make one with `overwood plan --keep`.")
        return
    plan, answer = newest
    if as_json:
        output.as_json(answer)
        return
    show(plan)
    state = "records have changed since: plan again" if answer.is_old else "the records are the same"
    click.echo(f"Answer {answer.number}, made {answer.made_on:%d %b %Y}, digest {answer.digest}; {state}.")


def show(plan: Any) -> None:
    """A plan in words."""
    words = telling()
    output.heading(words.title(plan))
    for line in words.head(plan):
        click.echo(line)
    output.table(words.headings(words.STANDS), words.stands(plan), title="Every stand", numeric=(1, 4))
    output.table(
        words.headings(words.ORDERS), words.orders(plan), title=words.standing_title(plan, "orders"), numeric=(2, 4, 5)
    )
    output.bullets("The advice names another step now", words.differing(plan))
    output.table(
        words.headings(words.LATER),
        words.later(plan),
        title="Years 2 to 5 are a plan, later ones a sketch: most likely years, and the chance",
    )
    output.table(
        words.headings(words.LOADS),
        words.loads(plan),
        title="What each year takes, beside what there is",
        numeric=range(2, 7),
    )
    if plan.curve:
        output.table(words.headings(words.CURVE), words.curve(plan), title="Oak against money", numeric=(0, 1, 2))
        click.echo(words.CURVE_NOTE)
    output.bullets("What is settled, and what that costs", words.settled(plan))
    output.bullets("What moved since the plan before", words.moved(plan))
    output.bullets("Not planned", [f"{one.stand}: {one.reason}" for one in plan.not_planned])
    output.bullets("How it was made", words.made(plan))
    output.bullets("Cautions", words.cautions(plan))
