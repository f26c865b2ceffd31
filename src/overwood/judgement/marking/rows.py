"""A forester's own constraints on a marking as rows of words, the same in a file, at the command and on the page.

least dbh 12
spacing 20
species white oak 30-70
wildlife 12, 45
edge north 30
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from overwood.ground import species
from overwood.ground.errors import Misuse
from overwood.ground.records import StandFile, Stem, StemMap
from overwood.judgement.marking.wants import Edge, SpeciesShare, Wants

SIDES = ("north", "east", "south", "west", "every")
# Crown classes that an uncut edge keeps; what stands below goes on as elsewhere.
_UPPER = ("dominant", "codominant", "")
FORMS = (
    "least dbh 12 (in.)",
    "spacing 20 (ft)",
    "species white oak 30-70 (% of the basal area left)",
    "wildlife 12, 45 (numbers of stems that stay)",
    "edge north 30 (ft along a side, or every side, where the main canopy stays)",
)


@dataclass(frozen=True)
class _Line:
    """One row with its place, for faults."""

    number: int
    words: tuple[str, ...]

    def fault(self, wrong: str) -> Misuse:
        return Misuse(
            f"row {self.number}, {' '.join(self.words)!r}: {wrong}.", remedy="Rows read: " + "; ".join(FORMS) + "."
        )

    def span_of(self, text: str, low: float, high: float) -> tuple[float, ...]:
        """Numbers with a dash between, each within a range."""
        try:
            numbers = tuple(float(part) for part in text.rstrip("%").split("-"))
        except ValueError:
            raise self.fault(f"{text!r} is no number") from None
        if not all(low <= number <= high for number in numbers):
            raise self.fault(f"{text} is not within {low:g} to {high:g}")
        return numbers

    def number_of(self, text: str, low: float, high: float) -> float:
        numbers = self.span_of(text, low, high)
        if len(numbers) != 1:
            raise self.fault(f"{text!r} is not one number")
        return numbers[0]


def read(rows: Sequence[str], wants: Wants) -> Wants:
    """Wants with the constraints of some rows; empty rows and what follows a # are passed over. Raises Misuse naming
    the row that cannot be read, what is wrong with it and how rows read."""
    for number, row in enumerate(rows, 1):
        words = tuple(row.partition("#")[0].split())
        if words:
            line = _Line(number, words)
            reader = _READERS.get(words[0].lower())
            if reader is None:
                raise line.fault(f"{words[0]!r} is no constraint")
            wants = reader(line, wants)
    return wants


def _least_dbh(line: _Line, wants: Wants) -> Wants:
    if len(line.words) != 3 or line.words[1].lower() != "dbh":
        raise line.fault("a least dbh is one number")
    return replace(wants, least_dbh_in=line.number_of(line.words[2], 1, 40))


def _spacing(line: _Line, wants: Wants) -> Wants:
    if len(line.words) != 2:
        raise line.fault("a spacing is one number")
    return replace(wants, spacing_ft=line.number_of(line.words[1], 1, 200))


def _species(line: _Line, wants: Wants) -> Wants:
    if len(line.words) < 3:
        raise line.fault("a species and its share are wanted")
    try:
        entry = species.find(" ".join(line.words[1:-1]))
    except KeyError as fault:
        raise line.fault(str(fault.args[0])) from None
    numbers = line.span_of(line.words[-1], 0, 100)
    if len(numbers) != 2 or numbers[0] > numbers[1]:
        raise line.fault(f"{line.words[-1]!r} is no span; write it as 30-70")
    if any(share.spcd == entry.spcd for share in wants.shares):
        raise line.fault(f"{entry.common_name} has a row already")
    return replace(
        wants, shares=(*wants.shares, SpeciesShare(entry.spcd, entry.common_name, numbers[0] / 100, numbers[1] / 100))
    )


def _wildlife(line: _Line, wants: Wants) -> Wants:
    stems = tuple(part for part in " ".join(line.words[1:]).replace(",", " ").split())
    if not stems:
        raise line.fault("numbers of stems are wanted")
    return replace(wants, wildlife=(*wants.wildlife, *stems))


def _edge(line: _Line, wants: Wants) -> Wants:
    if len(line.words) != 3 or line.words[1].lower() not in SIDES:
        raise line.fault(f"a side ({', '.join(SIDES)}) and a width are wanted")
    return replace(wants, edges=(*wants.edges, Edge(line.words[1].lower(), line.number_of(line.words[2], 1, 1_000))))


_READERS: dict[str, Callable[[_Line, Wants], Wants]] = {
    "least": _least_dbh,
    "spacing": _spacing,
    "species": _species,
    "wildlife": _wildlife,
    "edge": _edge,
}


def with_stays(file: StandFile, wants: Wants) -> StandFile:
    """The records with wildlife trees and the main canopy of uncut edges marked to stay. Raises Misuse when a wildlife
    tree is not on the map, or is marked to be cut."""
    visit = file.latest("stem map")
    if visit is None or not (wants.wildlife or wants.edges):
        return file
    block = next(row for row in file.stem_maps if row.visit == visit.visit)
    here = {stem.stem: stem for stem in file.stems if stem.visit == visit.visit}
    missing = [name for name in wants.wildlife if name not in here]
    if missing:
        raise Misuse(
            f"wildlife trees {', '.join(missing[:8])} are not on the map {visit.visit}.",
            remedy="Give stem numbers of the map.",
        )
    cut = [name for name in wants.wildlife if here[name].must == "cut"]
    if cut:
        raise Misuse(
            f"trees {', '.join(cut[:8])} are marked cut on the map and named wildlife trees.",
            remedy="Choose one of the two.",
        )
    stays = set(wants.wildlife) | {
        stem.stem for stem in here.values() if stem.must == "" and _on_edge(stem, block, wants)
    }
    marked = tuple(
        replace(stem, must="leave") if stem.visit == visit.visit and stem.stem in stays else stem for stem in file.stems
    )
    return replace(file, stems=marked)


def _on_edge(stem: Stem, block: StemMap, wants: Wants) -> bool:
    """Whether a tree of the main canopy stands on an edge that stays."""
    if stem.crown_class not in _UPPER or stem.dbh_in < wants.least_dbh_in:
        return False
    away = {
        "west": stem.east_ft,
        "south": stem.north_ft,
        "east": block.width_ft - stem.east_ft,
        "north": block.height_ft - stem.north_ft,
    }
    return any(
        min(away.values()) <= edge.width_ft if edge.side == "every" else away[edge.side] <= edge.width_ft
        for edge in wants.edges
    )
