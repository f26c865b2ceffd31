"""overwood burn: gates, days, value at risk and the floor after fire."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import click

from overwood.faces.cli import output
from overwood.faces.cli.options import Day, asks, prices_option
from overwood.ground import measures
from overwood.ground.measures import many

_PATH = click.Path(path_type=Path)


class Named(click.ParamType):
    """A name and a value with an equals sign between."""

    name = "name=value"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, str]:
        if isinstance(value, tuple):
            return value
        left, sign, right = str(value).partition("=")
        if not sign or not left or not right:
            self.fail(f"{value!r} is no pair; write it as wind=sknt", param, ctx)
        return left, right


@click.command("burn")
@click.argument("stand")
@click.option("--weather", "weather_file", type=_PATH, help="Hourly weather: csv of any headings, or a TMY3 file.")
@click.option(
    "--column",
    "columns",
    type=Named(),
    multiple=True,
    help="Which heading is what: temp=, dew=, rh=, wind=, gust=, wind_from=, rain=, time=.",
)
@click.option(
    "--unit", "units", type=Named(), multiple=True, help="Unit of a column: temp=C, wind=kn, rain=mm and so on."
)
@click.option("--station", default="", help="Station of a file that holds several.")
@click.option("--clock", type=click.Choice(["local", "utc"]), help="Clock the file keeps, where it cannot be told.")
@click.option("--zone", type=click.FloatRange(-12, 14), help="Hours of local standard time from UTC, such as -5.")
@click.option(
    "--wind-height",
    type=click.Choice(["10m", "20ft"]),
    default="10m",
    show_default=True,
    help="Height the wind was measured at.",
)
@click.option(
    "--fuel",
    "fuels",
    multiple=True,
    help="Fuel model, such as FM9; several times for several. Three are shown where fewer are named.",
)
@click.option(
    "--law",
    "law_file",
    type=_PATH,
    help="What you found out about hours, permits and bans (TOML); what is kept with the book if left out.",
)
@click.option("--new-law", type=_PATH, help="Write an empty law file to fill in, and stop.")
@click.option(
    "--planned", type=Day(), help="Day the burn is planned for; the first day of the burn window if left out."
)
@click.option("--override", default="", help="Reason for going on although a gate says no.")
@click.option("--years-to-cut", type=click.FloatRange(0, 60), help="Years from the burn until the timber is cut.")
@prices_option
@click.option("--picture", type=_PATH, help="Write the calendar of burn days as a picture (.svg).")
@click.option("--ics", type=_PATH, help="Write the hours inside the prescription as a calendar file.")
@click.option("--plan", type=_PATH, help="Write a draft burn plan as PDF.")
@asks
def command(
    stand: str,
    weather_file: Path | None,
    columns: tuple[tuple[str, str], ...],
    units: tuple[tuple[str, str], ...],
    station: str,
    clock: str | None,
    zone: float | None,
    wind_height: str,
    fuels: tuple[str, ...],
    law_file: Path | None,
    new_law: Path | None,
    planned: dt.date | None,
    override: str,
    years_to_cut: float | None,
    prices: Path | None,
    picture: Path | None,
    ics: Path | None,
    plan: Path | None,
    ask: Any,
    as_json: bool,
) -> None:
    """Plan a burn of STAND: gates, days that fit the prescription, value at risk, and the reproduction after it.

    A planning aid for a certified burner; it never says burn. Hours come from past weather, not from a forecast.
    """
    from overwood.desk import burn_table, fire, timber
    from overwood.judgement.fire import card

    if new_law:
        card.write_law_template(new_law)
        click.echo(f"An empty law file is written to {new_law}: fill it in after asking, then give --law {new_law}.")
        return
    if (picture or ics) and not weather_file:
        raise click.UsageError("--picture and --ics need --weather FILE.")
    how = {
        "columns": dict(columns),
        "units": dict(units),
        "station": station,
        "clock": clock or "",
        "zone_h": zone,
        "wind_height": wind_height,
    }
    weather = fire.read_weather(weather_file, **how) if weather_file else None
    asked: dict[str, Any] = {"fuels": fuels, "planned_on": planned, "override": override, "years_to_cut": years_to_cut}
    answer = burn_table.answer_of(
        stand,
        ask,
        weather=weather,
        law=card.load_law(law_file),
        prices=timber.price_list(prices),
        **{name: value for name, value in asked.items() if value not in (None, "", ())},
    )
    burn = answer.answer
    if picture:
        from overwood.faces.papers import burn_calendar

        burn_calendar.write_picture(burn, picture)
    if ics:
        fire.write_hours(burn, ics, ask.on)
    if plan:
        _write_plan(answer, ask, plan)
    if as_json:
        output.as_json(burn)
    else:
        _show(burn)
        click.echo(answer.words)
        for path, what in ((picture, "Calendar of burn days"), (ics, "Hours"), (plan, "Draft burn plan")):
            if path:
                click.echo(f"{what} written to {path}.")
    if burn.gates.refused:
        click.echo("A gate says no: this burn is refused. Mend it, or go on with --override REASON.", err=True)


def _write_plan(told: Any, ask: Any, plan: Path) -> None:
    from overwood.desk import fire
    from overwood.faces.papers import burn_plan, press

    burn = told.answer
    if burn.gates.refused:
        raise click.UsageError(
            "A gate says no, so no plan is written. Mend it, or give --override REASON, which the plan will print."
        )
    with press.printed_from(told.words):
        burn_plan.write(burn, ask.on, plan, fire.burn_warnings(burn.stand, ask))


def _show(burn: Any) -> None:
    output.heading(f"{burn.stand}: a burn planned for {burn.gates.planned_on:%d %b %Y}")
    rows = [(gate.answer, gate.question, gate.why, str(gate.settle or "")) for gate in burn.gates.gates]
    output.table(("gate", "question", "why", "what would open it"), rows)
    if burn.gates.override:
        click.echo(f"Overridden: {burn.gates.override}")
    click.echo(click.style(burn.law.words, bold=not burn.law.filled))
    _show_days(burn)
    if burn.harm:
        _show_harm(burn.harm)
    if burn.pool:
        _show_pool(burn.pool)
    output.bullets("Notes", burn.notes)
    from overwood.desk.fire import cautions

    output.bullets("Cautions", cautions())


def _show_days(burn: Any) -> None:
    from overwood.judgement.fire import card

    output.table(
        ("line of the prescription", "range"),
        [(line.label, line.words) for line in burn.card],
        title="Burn prescription (rulebook: burn_*)",
    )
    if not burn.days:
        click.echo(
            "No weather file is named, so no days are counted: give --weather FILE with hourly weather of "
            "several years."
        )
        return
    rows = []
    for block in burn.days:
        for season in block.seasons:
            longest = ", ".join(f"{day.day:%d %b} {day.first_hour}-{day.last_hour + 1} h" for day in season.days[:6])
            share = season.hours_known / max(season.hours_in_window, 1)
            rows.append(
                (
                    block.fuel,
                    str(season.year),
                    str(len(season.days)),
                    str(season.hours_inside),
                    f"{share:.0%}",
                    longest or "none",
                )
            )
    headings = ("fuel", "year", "burn days", "hours inside", "hours known", "first days")
    output.table(headings, rows, title="Days with enough hours in a row inside the prescription", numeric=(2, 3, 4))
    _show_behaviour(burn.days)
    first = burn.days[0]
    shown = [day for season in first.seasons for day in season.days][:6]
    output.bullets("To the end of the next day", [f"after {day.day:%d %b %Y}: {day.after.words}" for day in shown])
    ways = "; ".join(f"{way} {value:.0f}%" for way, value in first.moistures_pct.items())
    click.echo(
        f"Fuel moisture in these hours ({first.fuel}) by {ways}. The prescription goes by the tables; weigh the "
        "litter on the day."
    )
    for block in burn.days:
        low, high = min(block.counts), max(block.counts)
        lost = sorted(((hours, what) for what, hours in block.lost_to.items() if hours), reverse=True)[:3]
        words = ", ".join(f"{card.label(what)} ({hours} h)" for hours, what in lost)
        click.echo(
            f"{block.fuel}: {block.mean_days:.1f} days a season, {low} to {high} over {len(block.counts)} "
            f"year(s). Lines that alone shut hours: {words or 'none'}."
        )


def _show_behaviour(blocks: Any) -> None:
    rows = [
        (
            block.fuel,
            kind.technique,
            " to ".join(
                measures.digits(spread, "ch/h", ".1f")
                for spread in sorted({kind.spread_ch_h, max(kind.spread_ch_h, kind.spread_high_ch_h)})
            ),
            measures.digits(kind.flame_ft, "ft", ".1f"),
            measures.digits(kind.intensity_btu_ft_s, "Btu/ft/s"),
            measures.digits(kind.scorch_ft, "ft"),
            f"{kind.residence_min:.2f}",
            " to ".join(measures.digits(block.flame_span_ft[end], "ft", ".1f") for end in (0, 2))
            if kind.technique == "head"
            else "",
        )
        for block in blocks
        for kind in block.behaviour
    ]
    headings = (
        "fuel",
        "firing",
        "spread, {ch/h}",
        "flame, {ft}",
        "intensity, {Btu/ft/s}",
        "scorch, {ft}",
        "flame passes in, min",
        "head flame over all hours, {ft}",
    )
    output.table(
        headings,
        rows,
        title="Fire in the hours inside the prescription (in all hours where none is), medians",
        numeric=range(2, 8),
    )


def _show_harm(burn: Any) -> None:
    money = burn.value_usd_ac is not None
    rows = [
        (
            loss.technique,
            loss.debris,
            output.span([100 * share for share in loss.wounded_share]),
            output.span(loss.dead_trees_ac, 1, "/ac"),
            output.span(loss.topkilled_ac, 0, "/ac"),
            output.span(loss.boards_bf_ac, 0, "/ac"),
            output.span(loss.value_usd_ac, 0, "/ac") if money else "no prices",
        )
        for loss in burn.losses
    ]
    headings = (
        "firing",
        "debris",
        "sawtimber wounded, %",
        "sawtimber dead, {trees/ac}",
        "smaller topkilled, {stems/ac}",
        "boards lost, {bd ft/ac}",
        "value lost, {US$/ac}",
    )
    output.table(
        headings,
        rows,
        title=f"One dormant burn, cut {burn.years_to_cut:g} years later: likely (low to high)",
        numeric=range(2, 7),
    )
    if money:
        click.echo(
            f"By the published share of a burn (139 stands): {output.span(burn.published_usd_ac, 0, '/ac')} "
            f"{measures.unit_word('US$/ac')} of {measures.digits(burn.value_usd_ac, '/ac', ',.0f')}"
            f"{'; south aspects lose more' if burn.south else ''}."
        )
    click.echo(
        f"Pulling debris from {measures.amount(burn.debris_trees_ac, 'trees an acre')} takes "
        f"{output.span(burn.debris_hours_ac, 1, '/ac')} hours {measures.unit_word('an acre')}. "
        f"An escape ({output.span([100 * share for share in burn.escape_share], 2)}% of burns) is not in these figures."
    )
    stems = [
        (
            stem.species,
            measures.digits(stem.dbh_in, "in", "g"),
            measures.digits(stem.bark_in, "in", ".2f"),
            f"{stem.kill_min:.1f}",
            f"{stem.wound_cleared:.0%}",
            f"{stem.wound_debris:.0%}",
            "-" if stem.dead_2yr is None else f"{stem.dead_2yr:.0%}",
        )
        for stem in burn.stems
    ]
    of_stems = (
        "species",
        "dbh, {in.}",
        "bark, {in.}",
        "minutes to kill",
        "wounded, debris cleared",
        "wounded, debris at the foot",
        "dead in two years, by char",
    )
    output.table(of_stems, stems, title="Bark against the heat at the foot of a stem, head fire", numeric=range(1, 7))
    output.bullets("About the timber", burn.notes)


def _show_pool(burn: Any) -> None:
    rows = [
        (
            group.group,
            group.size,
            measures.digits(group.now_ac, "/ac", ",.0f"),
            *(output.span(after, 0, "/ac") for after in group.after_ac.values()),
        )
        for group in burn.groups
    ]
    burns = tuple(f"after {many(burns, 'burn')}" for burns in next(iter(burn.groups)).after_ac)
    title = f"Young {{stems/ac}} alive, as sprouts or untouched, {burn.season}: likely (low to high), assumptions"
    output.table(("group", "size", "now", *burns), rows, title=title, numeric=range(2, 6))
    shares = ", ".join(f"{share:.0%} after {burns}" for burns, share in burn.oak_share_after.items())
    click.echo(f"Oak is {burn.oak_share_now:.0%} of the stems now, {shares}. {burn.honest}")
    seen = [
        (
            measures.prose(row["group"]),
            row["burns"],
            f"{100 * float(row['survival_share']):.0f}% ({100 * float(row['unburned_share']):.0f}% unburned)",
            row["note"],
            row["source"],
        )
        for row in burn.published
    ]
    output.table(("published", "burns", "alive", "what", "source"), seen, title="What was seen elsewhere", numeric=(1,))
