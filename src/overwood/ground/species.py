"""Tree species: codes of open standards, names, and the habits the advice turns on.

A species is found by its FIA number, its PLANTS symbol, a common or scientific name, or a trade abbreviation. An
abbreviation that stands for several species is never guessed; an unknown name is kept and flagged as code 999.
"""

from __future__ import annotations

import difflib
import functools
import re
from dataclasses import dataclass

from overwood.ground import tables

TABLE = "ground/tables/species.csv"
STAND_INS, PIONEERS = "ground/tables/stand_ins.csv", "ground/tables/pioneers.csv"
UNKNOWN = 999
ANY_OAK = 800

# Abbreviations heard in the woods for more than one species: the person must say which.
AMBIGUOUS: dict[str, tuple[int, ...]] = {
    "RO": (833, 837, 806, 812),
    "RED OAK": (833, 837, 806, 812),
    "RED OAKS": (833, 837, 806, 812),
    "HM": (318, 261, 409),
    "BE": (531, 332),
    "BW": (951, 602),
    "SO RO": (812, 806),
    "IRONWOOD": (701, 391),
    "POPLAR": (621, 743),
    "ASPEN": (743, 746),
    "BUCKEYE": (332, 331),
    "CHERRY": (762, 761),
    "GUM": (693, 611),
    "LOCUST": (901, 552),
    "MAGNOLIA": (651, 655),
    "PINE": (129, 110, 132, 126, 131),
    "BIRCH": (372, 371, 373),
    "WHITE OAKS": (802, 832, 835),
    "MAPLE RED OR SUGAR": (316, 318),
    "SOFT MAPLE": (316, 317),
}


@dataclass(frozen=True)
class Species:
    """One species as the program knows it."""

    spcd: int
    symbol: str
    scientific_name: str
    common_name: str
    oak_group: str
    tolerance: str
    stand_role: str
    sprouting: str
    aliases: tuple[str, ...]

    @property
    def is_oak(self) -> bool:
        return bool(self.oak_group) or self.spcd == ANY_OAK

    @property
    def genus(self) -> str:
        """The first word of the scientific name."""
        return self.scientific_name.partition(" ")[0]

    @property
    def is_hickory(self) -> bool:
        """True for every Carya, pecan among them."""
        return self.genus == "Carya"

    @property
    def is_pioneer(self) -> bool:
        """True for species that come in light by seed blown far (``pioneers.csv``)."""
        return any(int(row["spcd"]) == self.spcd for row in tables.rows(PIONEERS))

    @property
    def is_tolerant(self) -> bool:
        return self.tolerance in ("tolerant", "very tolerant")


@functools.cache
def all_species() -> dict[int, Species]:
    """Every known species by FIA code."""
    species = {}
    for row in tables.rows(TABLE):
        aliases = tuple(alias for alias in row["aliases"].split("|") if alias)
        species[int(row["spcd"])] = Species(
            spcd=int(row["spcd"]),
            symbol=row["symbol"],
            scientific_name=row["scientific_name"],
            common_name=row["common_name"],
            oak_group=row["oak_group"],
            tolerance=row["tolerance"],
            stand_role=row["stand_role"],
            sprouting=row["sprouting"],
            aliases=aliases,
        )
    return species


def by_code(spcd: int) -> Species:
    """The species of an FIA code; a code outside the table is the unknown species."""
    return all_species().get(spcd, all_species()[UNKNOWN])


@functools.lru_cache(maxsize=4096)
def normal(text: str) -> str:
    """A name without case, punctuation or double spaces, so that 'Yellow-Poplar ' meets 'yellow poplar'."""
    return re.sub(r"[\s\-_./,']+", " ", text).strip().upper()


@functools.cache
def _codes_by_name() -> dict[str, int]:
    codes: dict[str, int] = {}
    for spcd, entry in all_species().items():
        for name in (str(spcd), entry.symbol, entry.common_name, entry.scientific_name, *entry.aliases):
            codes.setdefault(normal(name), spcd)
            # One of a genus: Carya sp.
            codes.setdefault(re.sub(" SPP$", " SP", normal(name)), spcd)
    return codes


@functools.cache
def _codes_by_bare_symbol() -> dict[str, tuple[int, ...]]:
    """PLANTS symbols without their digit: CAGL for CAGL8; of several species with the same letters, all of them."""
    bare: dict[str, tuple[int, ...]] = {}
    for spcd, entry in all_species().items():
        letters = entry.symbol.rstrip("0123456789")
        if letters != entry.symbol and letters not in _codes_by_name():
            bare[letters] = (*bare.get(letters, ()), spcd)
    return bare


@functools.cache
def _codes_by_initial() -> dict[str, int]:
    """Scientific names with their genus as a letter, as in Q. rubra, where one species alone is meant."""
    short: dict[str, set[int]] = {}
    for spcd, entry in all_species().items():
        genus, _, epithet = entry.scientific_name.partition(" ")
        if epithet and epithet not in ("spp.", "sp."):
            short.setdefault(normal(f"{genus[0]} {epithet}"), set()).add(spcd)
    return {name: codes.pop() for name, codes in short.items() if len(codes) == 1}


_AUTHOR = re.compile(r"^([A-Z][a-z]+ [a-z]{3,}) \(?[A-Z][A-Za-z.) ]*$")


@dataclass(frozen=True)
class Match:
    """How a written species was understood: a code, or the choices a person must decide between, or neither."""

    written: str
    spcd: int | None
    choices: tuple[int, ...] = ()
    nearest: str = ""

    @property
    def ambiguous(self) -> bool:
        return self.spcd is None and bool(self.choices)


def match(written: str) -> Match:
    """Understand what was written in a species column."""
    name = normal(written)
    if name.isascii() and name.isdigit():
        name = str(int(name))
    if name in AMBIGUOUS:
        return Match(written, None, AMBIGUOUS[name])
    code = _codes_by_name().get(name)
    if code is not None:
        return Match(written, code)
    bare = _codes_by_bare_symbol().get(name, ())
    if bare:
        return Match(written, bare[0]) if len(bare) == 1 else Match(written, None, bare)
    if name in _codes_by_initial():
        return Match(written, _codes_by_initial()[name])
    # Names of genus and species with the author behind them: Acer rubrum L.
    author = _AUTHOR.match(written.strip())
    if author and (code := _codes_by_name().get(normal(author[1]))) is not None:
        return Match(written, code)
    numbers = _in_other_order(written)
    if numbers:
        return Match(written, numbers[0]) if len(numbers) == 1 else Match(written, None, numbers)
    close = near(written)
    return Match(written, None, (), by_code(close[0]).common_name if close else "")


def _in_other_order(written: str) -> tuple[int, ...]:
    """The species behind "Oak, white", "Oak (white)" and "Oak, white (Quercus alba)"; none where the scientific name is
    another's, or there is neither comma nor bracket."""
    outside, _, inside = written.partition("(")
    inside = inside.rstrip(" )")
    latin = _codes_by_name().get(normal(inside)) if " " in inside.strip() else None
    kind, _, which = (outside if latin or not inside else f"{outside}, {inside}").partition(",")
    name = normal(f"{which} {kind}")
    if not which.strip() and not latin:
        return ()
    named = AMBIGUOUS.get(name) or tuple({_codes_by_name()[name]} if name in _codes_by_name() else ())
    return (latin,) if latin in named else named if latin is None else ()


# Letters in common, as a share, from which an unknown name is near a known one.
_NEARNESS = 0.8
# A code of this many letters is near every other code: it is held against whole names only.
_SHORT = 5


@functools.lru_cache(maxsize=4096)
def near(written: str, most: int = 3) -> tuple[int, ...]:
    """The species whose names are nearest to an unknown one, the nearest first; none where no name is near."""
    name = normal(written)[:60]
    if len(name) < _SHORT - 1:
        return ()
    long = [known for known in _codes_by_name() if len(known) >= _SHORT and not known.isdigit()]
    close = difflib.get_close_matches(name, long, n=2 * most, cutoff=_NEARNESS)
    return tuple(dict.fromkeys(_codes_by_name()[known] for known in close))[:most]


def find(written: str) -> Species:
    """The one species meant. Raises KeyError when the name is unknown or stands for several species; the message says
    which."""
    entry = match(str(written))
    if entry.spcd is not None:
        return by_code(entry.spcd)
    if entry.ambiguous:
        names = ", ".join(f"{by_code(code).common_name} ({code})" for code in entry.choices)
        raise KeyError(f"{written!r} can mean {names}: say which by its code or full name")
    hint = f"; the nearest known name is {entry.nearest!r}" if entry.nearest else ""
    raise KeyError(f"unknown species {written!r}: give an FIA code, a PLANTS symbol or a common name{hint}")


@functools.cache
def serving(table: str, spcd: int) -> int:
    """The species whose row of a table serves for ``spcd``: itself, or who stands in by ``stand_ins.csv``. Raises
    KeyError when nothing stands in for it."""
    if any(int(row["spcd"]) == spcd for row in tables.rows(table)):
        return spcd
    entry, row = by_code(spcd), {row["table"]: row for row in tables.rows(STAND_INS)}[table]
    oak = "red_oak" if entry.oak_group == "red" else "white_oak"
    who = row["hickory" if entry.is_hickory else oak if entry.is_oak else "other"]
    if not who:
        raise KeyError(f"{row['lacks']} for {entry.common_name}")
    return int(who)
