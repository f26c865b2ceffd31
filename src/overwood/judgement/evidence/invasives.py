"""Invasive plants: where they were seen, in any tally or sighting, and which visits looked for them."""

from __future__ import annotations

from overwood.ground import measures
from overwood.ground.measures import many
from overwood.ground.records import Seedling, Sighting, StandFile, Tree, Visit
from overwood.ground.species import all_species, by_code
from overwood.judgement.evidence.looked import INVASIVES, kinds_of


def looks_for(file: StandFile) -> tuple[Visit, ...]:
    """Visits that say on one of their rings that they looked for invasive plants, oldest first."""
    names = {ring.visit for ring in file.rings if INVASIVES in kinds_of(ring)}
    return tuple(sorted((v for v in file.visits if v.visit in names), key=lambda v: v.visited_on))


def seen_in(file: StandFile) -> tuple[str, ...]:
    """What was seen, in words: each sighting, and each invasive species of the tallies with its plots and last day."""
    sightings = [row for row in file.sightings if row.kind == "invasive plant"]
    return (*map(_sighting_words, sightings), *_tallied(file))


def _sighting_words(row: Sighting) -> str:
    area = f", {measures.amount(row.area_ac, 'ac', 'g')}" if row.area_ac else ""
    return f"{row.subject}{area}, seen {row.seen_on:%b %Y}"


def _tallied(file: StandFile) -> list[str]:
    days = {visit.visit: visit.visited_on for visit in file.visits}
    invasive = {code for code, species in all_species().items() if species.stand_role == "invasive"}
    seen: dict[int, set[tuple[str, str]]] = {}
    rows: list[Tree | Seedling] = [*file.trees, *(line for line in file.seedlings if line.stems > 0)]
    for row in rows:
        if row.species in invasive and row.visit in days:
            seen.setdefault(row.species, set()).add((row.visit, row.point))
    words = []
    for code, places in sorted(seen.items()):
        last = max(days[visit] for visit, _ in places)
        plots = len({point for visit, point in places if days[visit] == last})
        words.append(f"{by_code(code).common_name}, tallied on {many(plots, 'plot')} in {last:%b %Y}")
    return words
