"""Species by number, symbol, name and letters: each name means one species, an unknown one is never guessed far away."""

from __future__ import annotations

import collections

import pytest

from overwood.ground import species


def test_no_name_stands_for_two_species():
    names = collections.defaultdict(set)
    for spcd, one in species.all_species().items():
        for name in (str(spcd), one.symbol, one.common_name, one.scientific_name, *one.aliases):
            names[species.normal(name)].add(spcd)

    assert {name: codes for name, codes in names.items() if len(codes) > 1} == {}
    assert not set(names) & set(species.AMBIGUOUS)


@pytest.mark.parametrize(
    ("written", "symbol"),
    # Symbols of the PLANTS list of the USDA, an open list.
    [
        ("witch-hazel", "HAVI4"), ("American witch-hazel", "HAVI4"), ("autumn olive", "ELUM"), ("northern pin oak", "QUEL"),
        ("hophornbeam", "OSVI"), ("serviceberry", "AMELA"), ("spicebush", "LIBE3"), ("American chestnut", "CADE12"),
        ("pitch pine", "PIRI"), ("mountain laurel", "KALA"), ("black willow", "SANI"), ("pin cherry", "PRPE2"),
    ],
)  # fmt: skip
def test_trees_and_large_shrubs_of_the_eastern_hardwoods_are_known(written, symbol):
    assert species.find(written).symbol == symbol


@pytest.mark.parametrize(
    ("written", "spcd"),
    # FIA numbers of the national list; how tallies shorten names is common practice, no published source.
    [
        ("R Maple", 316), ("Sug. Maple", 318), ("Blk Oak", 837), ("Wh. Oak", 802), ("Chest Oak", 832), ("Y. Pop", 621), ("Y-Poplar", 621),
        ("Am. Beech", 531), ("W Ash", 541), ("Blk Gum", 693), ("Blk Cherry", 762), ("Blk Birch", 372), ("Shagbark", 407), ("Hick.", 400),
    ],
)  # fmt: skip
def test_names_as_tallies_shorten_them_are_known(written, spcd):
    assert species.match(written).spcd == spcd


@pytest.mark.parametrize("written", ["S Maple", "B Oak", "C Oak", "R Oak", "S Oak"])
def test_letters_that_can_mean_several_trees_are_not_guessed(written):
    assert species.match(written).spcd is None


@pytest.mark.parametrize(
    ("written", "spcd"),
    # FIA numbers of the national list.
    [("CAGL", 403), ("FRAM", 541), ("CAGL8", 403), ("SAAL", 931), ("QUAL", 802), ("LITU", 621), ("809", 809), ("421", 421)],
)
def test_symbols_are_known_with_and_without_their_digit(written, spcd):
    assert species.match(written).spcd == spcd


@pytest.mark.parametrize("written", ["ACSA", "CAOV", "QUPA"])
def test_letters_that_several_symbols_begin_with_are_asked_about(written):
    found = species.match(written)

    assert found.ambiguous
    assert len(found.choices) > 1


@pytest.mark.parametrize(
    ("written", "codes"),
    # FIA numbers of the national list; a scientific name that is another's is no name at all.
    [
        ("Oak, white", (802,)), ("Oak (black)", (837,)), ("Oak, white (Quercus alba)", (802,)), ("Poplar (tulip)", (621,)),
        ("Maple, red", (316,)), ("red oak (Quercus rubra)", (833,)), ("Oak, red", (833, 837, 806, 812)), ("soft maple", (316, 317)),
        ("white oak (Quercus rubra)", ()), ("oak (dead)", ()), ("WO (dead)", ()), ("white pine", (129,)),
    ],
)  # fmt: skip
def test_names_written_the_other_way_about_are_known(written, codes):
    found = species.match(written)

    assert ((found.spcd,) if found.spcd is not None else found.choices) == codes


@pytest.mark.parametrize("written", ["zzz", "XQZ", "qqqq", "nosuch", "WK", "beth"])
def test_no_guess_is_made_far_away(written):
    found = species.match(written)

    assert (found.spcd, found.nearest) == (None, "")


@pytest.mark.parametrize(("written", "name"), [("yelow poplar", "yellow-poplar"), ("whit oak", "white oak"), ("red mapel", "red maple")])
def test_a_misspelt_name_has_a_nearest_one(written, name):
    assert species.match(written).nearest == name


def test_every_species_has_a_role_and_says_how_sure_its_tolerance_is():
    for one in species.all_species().values():
        assert one.stand_role
        assert one.tolerance


def test_pecan_is_a_hickory_by_its_genus():
    assert species.find("pecan").is_hickory
    assert not species.find("white oak").is_hickory
