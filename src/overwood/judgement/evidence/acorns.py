"""Figures of the acorn crop: share bearing by oak group, crop class, what may come of it, which trees bear."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from overwood.ground import measures, tables
from overwood.ground.doubt import Doubt
from overwood.ground.figure import Figure, Figures, Input, doubted, unmeasured
from overwood.ground.records import AcornTree, StandFile, Visit
from overwood.ground.species import by_code
from overwood.judgement.evidence import layers, overstory
from overwood.judgement.evidence.tally import Array, Cruise, Mask, cruise_of, group_of, share_figure
from overwood.judgement.rules import Rules
from overwood.science import acorns as science
from overwood.science import survey

GROUPS = ("white", "red")
_EXPECTED = ("sound_acorns_ac", "seedlings_8yr_ac")
_FIRST_MONTH = 8
_PUBLISHED_YIELD = {802: "yield_white_oak", 832: "yield_chestnut_oak"}


def crop_year(on: dt.date) -> int:
    """The autumn whose crop is the latest to be known on a day: from August on this year's, before that last year's."""
    return on.year if on.month >= _FIRST_MONTH else on.year - 1


def in_season(day: dt.date, rules: Rules) -> bool:
    """Whether a check fell in the window in which a count means something."""
    first, last = rules["window_acorn"].window
    return first <= f"{day:%m-%d}" <= last


def is_bearing(tree: AcornTree) -> bool:
    return bool(tree.bearing) if tree.bearing is not None else (tree.acorns or 0) > 0


@dataclass(frozen=True)
class Check:
    """The acorn check that speaks for a stand in one autumn."""

    visits: tuple[Visit, ...]
    trees: tuple[AcornTree, ...]
    own: bool
    out_of_season: bool

    def group(self, name: str) -> tuple[AcornTree, ...]:
        return tuple(tree for tree in self.trees if by_code(tree.species).oak_group == name)


def check_of(file: StandFile, year: int, rules: Rules) -> Check | None:
    """The check that speaks for a stand: its own in season, else its neighbours' in season, else its own out of
    season."""
    # Each draw of how firm a step is asks again, and a property may have a thousand checks.
    return file.once(("acorn check", year, rules["window_acorn"].window), lambda: _check_of(file, year, rules))


def _check_of(file: StandFile, year: int, rules: Rules) -> Check | None:
    own = _checks(file.visits, year)
    timely = [visit for visit in own if in_season(visit.visited_on, rules)]
    return (
        _looked_at(timely, file.acorn_trees, True, False)
        or _near(file, year, rules)
        or _looked_at(own, file.acorn_trees, True, True)
    )


def _near(file: StandFile, year: int, rules: Rules) -> Check | None:
    visits = [visit for visit in _checks(file.neighbour_visits, year) if visit.stand != file.stand.stand]
    timely = [visit for visit in visits if in_season(visit.visited_on, rules)]
    return _looked_at(timely, file.neighbour_acorn_trees, False, False)


def _looked_at(visits: list[Visit], trees: tuple[AcornTree, ...], own: bool, late: bool) -> Check | None:
    """The check that these visits come to; None where they looked at no tree."""
    names = {visit.visit for visit in visits}
    rows = tuple(tree for tree in trees if tree.visit in names)
    return Check(tuple(visits), rows, own, late) if rows else None


def _checks(visits: tuple[Visit, ...], year: int) -> list[Visit]:
    return [v for v in visits if v.kind == "acorn" and crop_year(v.visited_on) == year and v.visited_on.year == year]


def figures(file: StandFile, rules: Rules, on: dt.date) -> Figures:
    """This autumn's crop, by group and as a whole, and what it may become."""
    year = crop_year(on)
    check = check_of(file, year, rules)
    shares = {f"bearing_{group}_share": group for group in GROUPS}
    classes = {f"crop_{group}_class": group for group in GROUPS}
    crop = Figures().add(shares, lambda: {name: bearing(check, group, year, rules) for name, group in shares.items()})
    crop.add(
        classes,
        lambda: {
            name: _crop_class(crop[f"bearing_{group}_share"], check, group, rules) for name, group in classes.items()
        },
    )
    carried = "crop_bearing_share"
    crop.add((carried,), lambda: {carried: _no_bearers(file, check, rules) or _carrying(file, crop, rules)})
    return crop.add(_EXPECTED, lambda: _expected(file, crop, rules))


def bearing(check: Check | None, group: str, year: int, rules: Rules) -> Figure:
    """Share of a group's oaks seen bearing in an autumn."""
    name = f"bearing_{group}_share"
    trees = check.group(group) if check else ()
    if check is None or not trees:
        return unmeasured(name, f"no acorn survey of the {group} oak group in fall {year}", "share")
    figure = share_figure(
        name,
        sum(map(is_bearing, trees)),
        len(trees),
        rules=rules,
        method=f"{group} oaks with acorns, autumn {year}",
        inputs=(Input(name="acorn check", value=len(trees), unit="rows", rows=tuple(tree.id for tree in trees)),),
        places=_by_place(trees),
    )
    return doubted(figure, _doubts(check, len(trees), rules))


def _by_place(trees: tuple[AcornTree, ...]) -> tuple[Array, Array] | None:
    """Trees that bear and trees looked at, place by place; None where every tree stands alone."""
    group = group_of([f"{tree.visit} {tree.cluster}" if tree.cluster else "" for tree in trees])
    if group is None:
        return None
    places, bears = int(group.max()) + 1, [float(is_bearing(tree)) for tree in trees]
    return survey.point_totals(group, bears, places), survey.point_totals(group, np.ones(len(trees)), places)


def _doubts(check: Check, looked_at: int, rules: Rules) -> tuple[Doubt, ...]:
    """What speaks against a check: its days, how many trees were looked at, and whose trees they were."""
    doubts, fewest = [], int(rules.number("crop_fewest_trees"))
    if check.out_of_season:
        days = ", ".join(f"{visit.visited_on:%d %b}" for visit in check.visits)
        first, last = rules["window_acorn"].window
        doubts.append(Doubt("out_of_season", {"days": days, "first": first, "last": last}))
    if looked_at < fewest:
        doubts.append(Doubt("few_trees", {"trees": looked_at, "fewest": fewest}))
    if not check.own:
        doubts.append(Doubt("not_own", {"stands": ", ".join(sorted({visit.stand for visit in check.visits}))}))
    return tuple(doubts)


def _crop_class(share: Figure, check: Check | None, group: str, rules: Rules) -> Figure:
    name = f"crop_{group}_class"
    if check is None or not share.measured:
        return unmeasured(name, share.note)
    limits = {key: rules.number(f"bearing_{key}") for key in ("fair", "good", "bumper")}
    word = science.class_from_bearing(share.number, **limits)
    note, counted = _counts_beside(check.group(group), group)
    return Figure(
        name=name,
        value=word,
        n=share.n,
        method="class from the share of trees bearing (limits: bearing_* in the assumptions)",
        sources=("greenberg2000", *counted),
        inputs=(Input(name=share.name, figure=share.name),),
        note=note,
        status="assumption",
    )


def _counts_beside(trees: tuple[AcornTree, ...], group: str) -> tuple[str, tuple[str, ...]]:
    """What counts on limbs, timed counts or a visual index say beside the share bearing, and their sources."""
    said, sources = [], []
    counted = [tree for tree in trees if tree.acorns is not None]
    limbs = [tree for tree in counted if tree.method == "limb" and tree.limbs]
    if limbs:
        per_limb = sum(tree.acorns or 0 for tree in limbs) / sum(tree.limbs or 0 for tree in limbs)
        said.append(
            f"by {per_limb:.1f} acorns a {measures.digits(24, 'in.')}-{measures.unit_word('in.')} branch "
            f"end: {science.class_from_limbs(group, per_limb)}"
        )
        sources.append("sharp1958")
    timed = [tree for tree in counted if tree.method == "timed" and tree.seconds]
    if timed:
        rate = 30 * sum(tree.acorns or 0 for tree in timed) / sum(tree.seconds or 0 for tree in timed)
        said.append(f"timed counts: {rate:.1f} acorns in 30 s on {len(timed)} trees")
        sources.append("koenig1994")
    index = [tree.acorns or 0 for tree in counted if tree.method == "index"]
    if index:
        mean = sum(index) / len(index)
        said.append(f"by a mean visual index of {mean:.1f}: {science.class_from_index(mean)}")
        sources.append("whitehead1969")
    return "; ".join(said), tuple(sources)


def _no_bearers(file: StandFile, check: Check | None, rules: Rules) -> Figure | None:
    """No crop, where only oaks of other stands were looked at and the cruise here tallied none that could bear."""
    visit = file.latest("cruise")
    if check is None or check.own or visit is None:
        return None
    cruise = cruise_of(file, visit)
    if overstory.canopy_not_looked_at(cruise, rules) or (_bearing_size(cruise, rules)).any():
        return None
    least = measures.amount(rules.number("acorn_tree_dbh_in"), "in.", "g")
    method = (
        f"no oak of {least} or larger was tallied on {cruise.n} points, so no crop falls here, "
        "whatever oaks of other stands bear"
    )
    return Figure(
        name="crop_bearing_share",
        value=0.0,
        unit="share",
        low=0.0,
        high=0.0,
        method=method,
        inputs=(Input(name="cruise", value=cruise.n, unit="points"),),
    )


def bore_nothing(file: StandFile, check: Check, year: int, rules: Rules) -> bool:
    """Whether no crop of an autumn fell here: none could bear at the cruise, and no work was done between the two."""
    nothing, visit = _no_bearers(file, check, rules), file.latest("cruise")
    if nothing is None or visit is None:
        return False
    autumn = dt.date(year, _FIRST_MONTH, 1)
    return not any(row.state == "done" and autumn <= row.started_on <= visit.visited_on for row in file.operations)


def _bearing_size(cruise: Cruise, rules: Rules) -> Mask:
    """Oaks of the main canopy large enough to bear, as a mask of the cruise's trees."""
    large = cruise.dbh_in >= rules.number("acorn_tree_dbh_in")
    return layers.oak_mask(cruise) & layers.overwood_mask(cruise, rules) & large


def _carrying(file: StandFile, figures: Mapping[str, Figure], rules: Rules) -> Figure:
    """The better group among those that make up enough of the stand's oaks."""
    shares = _group_shares(file, rules)
    able = [g for g in GROUPS if shares.get(g, 1.0) >= rules.number("acorn_group_share")]
    measured = [figures[f"bearing_{g}_share"] for g in able if figures[f"bearing_{g}_share"].measured]
    if not measured:
        return unmeasured("crop_bearing_share", figures["bearing_white_share"].note, "share")
    best = max(measured, key=lambda figure: figure.number)
    return Figure(
        name="crop_bearing_share",
        value=best.value,
        unit="share",
        low=best.low,
        high=best.high,
        level=best.level,
        n=best.n,
        method=(
            f"the better of the oak groups with at least {rules.number('acorn_group_share'):.0%} of the oaks: "
            f"{best.method}"
        ),
        sources=best.sources,
        inputs=(Input(name=best.name, figure=best.name),),
        note=best.note,
        doubts=best.doubts,
    )


def _group_shares(file: StandFile, rules: Rules) -> dict[str, float]:
    visit = file.latest("cruise")
    if visit is None:
        return {}
    cruise = cruise_of(file, visit)
    oak = layers.oak_mask(cruise) & layers.overwood_mask(cruise, rules)
    ba = cruise.dbh_in**2 * cruise.per_ac
    total = ba[oak].sum()
    of = {g: layers.species_mask(cruise.spcd, lambda code, g=g: by_code(code).oak_group == g) for g in GROUPS}  # type: ignore[misc]
    return {g: float(ba[oak & of[g]].sum() / total) for g in GROUPS} if total > 0 else {}


def _expected(file: StandFile, figures: Mapping[str, Figure], rules: Rules) -> dict[str, Figure]:
    """Sound acorns and seedlings per acre as a chain of survivals, low and high from the ends of every range."""
    visit = file.latest("cruise")
    if visit is None or not any(figures[f"crop_{group}_class"].measured for group in GROUPS):
        missing = "needs a cruise and an acorn survey of this fall"
        return {name: unmeasured(name, missing, "acorns/ac" if "acorns" in name else "stems/ac") for name in _EXPECTED}
    cruise = cruise_of(file, visit)
    oaks = _bearing_size(cruise, rules)
    crop = [0.0, 0.0, 0.0]
    for place in np.flatnonzero(oaks):
        code = int(cruise.spcd[place])
        word = figures.get(f"crop_{by_code(code).oak_group}_class")
        if word is None or not word.measured:
            continue
        per_tree, times = _yield(code, rules), _ends(rules, f"crop_multiplier_{word.value}")
        trees_ac = cruise.per_ac[place] / cruise.n
        crop = [total + trees_ac * y * m for total, y, m in zip(crop, per_tree, times, strict=True)]
    insects, buried = _ends(rules, "insect_loss_share"), _ends(rules, "buried_share")
    alive = _ends(rules, "seedling_survival_8yr")
    ends = [
        science.fate(amount, insect_share=lost, buried_share=kept, survival_share=lives)
        for amount, lost, kept, lives in zip(crop, (insects[0], insects[2], insects[1]), buried, alive, strict=True)
    ]
    inputs = (
        Input(name="crop_white_class", figure="crop_white_class"),
        Input(name="crop_red_class", figure="crop_red_class"),
        Input(name="oaks of bearing size", value=int(oaks.sum()), unit="rows", rows=cruise.rows(oaks)),
    )
    common: dict[str, Any] = {
        "n": cruise.n,
        "sources": ("rose2012", "brose2011", "assumed"),
        "inputs": inputs,
        "status": "assumption",
        "note": "low and high take every link of the chain at the end of its range; no chance is attached to them",
    }
    return {
        "sound_acorns_ac": Figure(
            name="sound_acorns_ac", value=ends[0].sound_ac, low=ends[1].sound_ac, high=ends[2].sound_ac,
            unit="acorns/ac", method="trees x acorns a tree x crop class x (1 - insects)", **common,
        ),
        "seedlings_8yr_ac": Figure(
            name="seedlings_8yr_ac", value=ends[0].seedlings_ac, low=ends[1].seedlings_ac, high=ends[2].seedlings_ac,
            unit="stems/ac", method="sound acorns x overwinter share x eight-year survival", **common,
        ),
    }  # fmt: skip


def _ends(rules: Rules, name: str) -> tuple[float, float, float]:
    """Value, low and high of an assumption."""
    rule = rules[name]
    return rule.number, float(rule.low or 0.0), float(rule.high or rule.number)


def _yield(code: int, rules: Rules) -> tuple[float, float, float]:
    """Acorns a tree in an average year: value, low, high."""
    if code in _PUBLISHED_YIELD:
        mean, error = (
            tables.constants(science.TABLE)[_PUBLISHED_YIELD[code]],
            rules.number("acorns_per_tree_white_error"),
        )
        return mean, mean * (1 - error), mean * (1 + error)
    return _ends(rules, "acorns_per_tree_other_oak")


@dataclass(frozen=True)
class Bearer:
    """One numbered tree in the order of what it has borne."""

    tree: str
    species: str
    autumns: int
    mean_count: float
    shrunken_log: float
    rank: int


def bearers(file: StandFile) -> list[Bearer]:
    """Numbered trees counted in two autumns or more, best first, ranked within their oak group."""
    counted = [tree for tree in file.acorn_trees if tree.acorns is not None]
    years = {visit.visit: visit.visited_on.year for visit in file.visits}
    bearers: list[Bearer] = []
    for group in GROUPS:
        rows = [tree for tree in counted if by_code(tree.species).oak_group == group]
        names, seasons = sorted({t.tree for t in rows}), sorted({years[t.visit] for t in rows})
        grid = np.full((len(names), len(seasons)), np.nan)
        for tree in rows:
            grid[names.index(tree.tree), seasons.index(years[tree.visit])] = tree.acorns
        enough = (~np.isnan(grid)).sum(axis=1) >= 2
        if enough.sum() < 2:
            continue
        trees = [name for name, keep in zip(names, enough, strict=True) if keep]
        ranked = science.rank_bearers(grid[enough])
        species = {tree.tree: by_code(tree.species).common_name for tree in rows}
        for index, name in enumerate(trees):
            row = grid[enough][index]
            bearers.append(
                Bearer(
                    tree=name,
                    species=species[name],
                    autumns=int((~np.isnan(row)).sum()),
                    mean_count=float(np.nanmean(row)),
                    shrunken_log=float(ranked.shrunken[index]),
                    rank=int(ranked.rank[index]),
                )
            )
    return sorted(bearers, key=lambda bearer: -bearer.shrunken_log)
