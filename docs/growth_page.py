"""The page that prints pooled growth and death beside every site they came from."""

from __future__ import annotations

import math

import growth_refit as refit
import numpy as np

_HEAD = """# Growth and death

How trees grow and die in `choices`, in what another year costs and in `diameter-growth`. Published coefficient tables (Hilt 1983,
Smith and Shifley 1984, Teck and Hilt 1991) and yield tables could not be read, so this is a refit of what could be. The evidence is
`docs/growth_evidence.csv`, the fit `docs/growth_refit.py`; this page is generated from both. All of it is an assumption with a range.

## Death by species

Rate over all trees of 4.5 in. and larger, % a year. Virginia: two censuses of one open stem map (`scbi`), put on one mix of sizes
(45, 30 and 25% of trees in 4.5-11, 11-16 and over 16 in., an assumption). Ohio: 82 plots over 23 to 25 years (`wayne2018`).
Missouri: 16 years where red oaks decline (`fan2011`). Second map: two censuses of another oak-hickory forest (`second_map`); it told red
oaks and hickories as groups, so the same figure stands at each. Pooled: species fixed, sites drawn, ln rate = species + site + site within
species + sampling, by restricted maximum likelihood (as DerSimonian and Laird 1986, `dersimonian1986`, with species). The range holds nine
sites in ten: `slow site` and `fast site` in `overwood choices` are its ends.

"""
# Of the others only red maple was told by the second map.
_LEVEL_NAMES = {refit.OTHER: "red maple"}
_SITES = ("Virginia", "Ohio", "Missouri", "second map")


def _pct(log_rate: float) -> str:
    return f"{100 * math.exp(log_rate):.2f}"


def deaths() -> str:
    """Each species with its rate at every site, pooled, and the range between sites."""
    seen, name = refit.levels(), refit.names()
    fitted = refit.pool(seen)
    lines = [f"| species | {' | '.join(_SITES)} | pooled | nine sites in ten |", f"|---|{'---|' * (len(_SITES) + 2)}"]
    for spcd, middle in fitted.log_rate.items():
        rates = {one.site: one.log_rate for one in seen if one.spcd == spcd}
        cells = " | ".join(_pct(rates[site]) if site in rates else "" for site in _SITES)
        spread = refit.Z90 * fitted.spread(spcd)
        lines.append(f"| {name[spcd]} | {cells} | {_pct(middle)} | {_pct(middle - spread)} to {_pct(middle + spread)} |")
    apart = f"\nSites lie apart by {fitted.site_sd:.2f}, species within sites by {fitted.rest_sd:.2f} (standard deviations of ln rate).\n"
    return "\n".join(lines) + "\n" + apart


def left_out() -> str:
    """Every site told from the others."""
    rows, held = [], 0
    for one, middle, spread in refit.left_out():
        inside = abs(one.log_rate - middle) <= refit.Z90 * spread
        held += inside
        low, high = middle - refit.Z90 * spread, middle + refit.Z90 * spread
        spans = f"{_pct(middle)} ({_pct(low)} to {_pct(high)})"
        rows.append(f"| {one.site} | {refit.names()[one.spcd]} | {_pct(one.log_rate)} | {spans} | {'yes' if inside else 'no'} |")
    head = "| site | species | seen | from the other sites | inside |\n|---|---|---|---|---|\n"
    words = f"\n## A site left out\n\nEach rate beside what the other sites say of it; {held} of {len(rows)} lie in a range meant for nine in ten.\n\n"
    return words + head + "\n".join(rows) + "\n"


def by_size() -> str:
    """Death by group and size: seen at the one site that tells sizes, and as the table has it."""
    shape, counts = refit.shapes(), refit.counts()
    table = {(row["spcd"], row["low_in"]): float(str(row["rate_yr"])) for row in refit.death_table()}
    lines = [
        "| group | size, in. | deaths seen | seen in Virginia, % | the table for the same trees, % | table over seen |",
        "|---|---|---|---|---|---|",
    ]
    for group in shape:
        for number, (low, high) in enumerate(refit.CLASSES):
            cells = {spcd: cell[number] for spcd, cell in counts.items() if refit.GROUP[spcd] == group and cell[number, 1]}
            if not cells:
                continue
            dead, years = (sum(cell[column] for cell in cells.values()) for column in (0, 1))
            told = sum(table[spcd, f"{low:g}"] * cell[1] for spcd, cell in cells.items()) / years
            ratio = f"{told / (dead / years):.2f}" if dead else ""
            lines.append(f"| {group} | {low:g} to {high:g} | {dead:.0f} | {100 * dead / years:.2f} | {100 * told:.2f} | {ratio} |")
    words = (
        "\n## Death by size\n\nOnly Virginia tells deaths by size, so the shape over diameter is one site's, by group with one death added to each class. "
        "That the table lies below what was seen there is the pooling: three other forests lost fewer.\n\n"
    )
    return words + "\n".join(lines) + "\n"


def growth() -> str:
    """Levels of growth, and the equation beside the means of the site it came from, by size."""
    from overwood.science.growth import diameter_growth_in_yr

    pooled, site_sd = refit.growth_levels()
    levels = "\n".join(f"| {_LEVEL_NAMES.get(group, group)} | {level**2:.2f} | {level:.2f} |" for group, level in pooled.items())
    names = refit.names()
    lines = ["| species | size, in. | trees | seen in Virginia, in./yr | as counted with, in./yr | bias |", "|---|---|---|---|---|---|"]
    for row in refit.evidence("mean growth"):
        spcd = int(row["spcd"])
        if spcd in names and refit.GROUP[spcd] != refit.WEAK:
            middle = (float(row["low_in"]) + float(row["high_in"])) / 2
            larger = np.interp(middle, [2.75, 7.75, 13.5, 18.0, 25.0], [100, 80, 40, 25, 10])
            told, seen = float(diameter_growth_in_yr(spcd, middle, larger)), float(row["value"])
            span = f"{row['low_in']} to {row['high_in']}"
            lines.append(f"| {names[spcd]} | {span} | {row['exposure']} | {seen:.3f} | {told:.3f} | {told / seen - 1:+.0%} |")
    return _GROWTH.format(levels=levels, apart=f"{site_sd:.2f}", sizes="\n".join(lines))


_GROWTH = """
## Diameter growth

One equation a species, fitted to Virginia (`scbi`, unmanaged, about 147 ft2/ac); its level is pooled with the second map, where the
equations were tried as they stood. Two sites weigh the same; they lie apart by {apart} (standard deviation of ln growth).

| group | second map over Virginia | level used |
|---|---|---|
{levels}

In the second map red oaks of 11 to 16 in. grew 0.68 of the equation, more astray than their group; that is printed, not pooled.

Bias by size against the site of the fit, at the middle of each class and a usual basal area of larger trees (100, 80, 40, 25, 10 ft2/ac):
what is not zero is the equation's own shape, the class middle, and the pooled level.

{sizes}

## What growth and death answer to

- **Crowding of a tree**: growth by basal area in larger trees, fitted in Virginia (weak for oaks: 0.1% for each ft2/ac). Death by the same,
  against what is usual for the size: red oaks by `death_crowding_red`, others by half of it (`death_crowding_other`), at most threefold.
  Printed: suppressed and intermediate red oaks 4.3% a year, dominant and codominant 1.4 (`fan_poster`). One study found white oaks dying more where
  basal area was lower (`wayne2018`); the range of the others reaches to none.
- **Thinning**: a stand of 60% of full stocking grows 1.5 times as fast (1.25 to 1.6; `ward2002` measured 1.53 in red oak sawtimber), a full one (110 ft2/ac)
  once, between them even on the log scale, and never more than was measured. After a cut black oak gains at once to after a year, scarlet oak after 6 to 7
  years (`ring_thinning`), others after `release_lag_yr`. A stand that was open already grows so without a cut.
- **Site**: growth in proportion to oak site index over 70 ft (`growth_site_power` 1; 0 to 1), the form of Teck and Hilt 1991 from memory. Death does not answer to site.

## What is still one site

The shape of death over size; every growth equation; level of growth of yellow-poplar, ash, beech, gum, walnut and what stands in for them; death of
yellow-poplar and of species that fail there by pest or disease (ash, elm, dogwood, sassafras), which a stand without the pest should not borrow.

## What is missing

- **Ingrowth**: none. No rate was found in print, and a cruise starts at its own least diameter; over the years of `choices` (at most 20) it would add small
  stems, no sawtimber. In the second map basal area gained 8.8 ft2/ac where the former rates gave 2.7; part of that gap is ingrowth.
- **Order of species**: print has red at or above scarlet, then black, white, chestnut oak (Shifley 2004, GTR SRS-73:198-205). Here scarlet borrows black's equation,
  and chestnut oak of 16 in. grows faster than white oak, as it did in Virginia.
- **Yields**: no yield table could be read. Beside the A line (Gingrich 1967) a full white oak stand of 6 to 14 in. mean diameter stands at 102 to 116% after 10 to
  30 years (`tests/science/test_growth_a_line.py`); before the refit stands of 6 and 8 in. fell to 54 and 64%. Up to a sixth too dense after 30 years
  says that deaths in crowded stands are few or growth high: trust it for years, not for decades.
"""


def page(note: str) -> str:
    """The whole page."""
    return f"{note}\n{_HEAD}{deaths()}{left_out()}{by_size()}{growth()}"
