"""Light as a person asks for it: on a stem map where there is one, from the cruise where there is none."""

from __future__ import annotations

from dataclasses import dataclass, field

from overwood.desk.answers import Question, stand_file
from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.ground.vocabulary import LIGHT_MEASURES
from overwood.judgement import evidence as judged
from overwood.judgement import stem_map
from overwood.judgement.crew_words import sentence
from overwood.judgement.evidence import light as readings
from overwood.judgement.evidence.tally import cruise_of
from overwood.judgement.light.drawn_stand import drawn_light
from overwood.judgement.light.fit import Fit, fit_extinction
from overwood.judgement.light.gain import SEED, Gain, StateLight, drawn_states, mapped_midstory_out, state_light
from overwood.judgement.marking.wants import Wants, default_wants
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block, Light

_FIGURES = ("floor_light_pct", "floor_light_curve_pct")
_NO_MAP = "There is no stem map, so these are stand averages: a map of crowns tells where the light falls."


@dataclass(frozen=True)
class FloorLight:
    """The light of a stand: its figures, the one figure of each state (``told``), and what its stem map shows of
    them."""

    stand: str
    figures: dict[str, Figure]
    block: Block | None = field(repr=False, metadata={"inner": True})
    states: tuple[Light, ...]
    told: tuple[StateLight, ...]
    notes: tuple[str, ...]


def light(name: str, ask: Question) -> FloorLight:
    """The light on the floor of a stand. Raises NotFound when the stand has neither light readings, nor a cruise, nor a
    stem map."""
    file = stand_file(name).as_of(ask.on)
    known = judged.all_figures(file, ask.rules, ask.on)
    figures = {key: known[key] for key in _FIGURES if known[key].measured}
    if not has_stem_map(file):
        if not figures:
            raise NotFound(
                f"{name} has neither light readings, nor a cruise, nor a stem map by {ask.on}.",
                remedy="Bring one of them in.",
            )
        told = states_told(file, ask, default_wants(ask.rules), known["floor_light_pct"])
        return FloorLight(name, figures, None, (), told, (_NO_MAP, *gaps(told, ask.rules)))
    block = stem_map.block_of(file, ask.rules)
    band = default_wants(ask.rules).band
    everything = block.midstory | block.overwood
    states = [stem_map.light_of(block, everything, ask.rules, "uncut", band=band)]
    if block.inject.any():
        states.append(stem_map.light_of(block, block.without_midstory, ask.rules, "midstory out", band=band))
    told = _of_map(file, ask, known["floor_light_pct"], states)
    return FloorLight(
        name, figures, block, tuple(states), told, (*_notes(block, states, ask.rules), *gaps(told, ask.rules))
    )


def _of_map(file: StandFile, ask: Question, now: Figure, states: list[Light]) -> tuple[StateLight, ...]:
    """The figures of a mapped stand; none where neither readings nor a cruise set the level, so that the map alone
    speaks."""
    if not now.measured:
        return ()
    as_it_stands = state_light("as it stands", now, Gain(1.0, 1.0, 1.0, "itself"), states[0].mean_pct, None, None)
    return (as_it_stands, *(mapped_midstory_out(now, file, ask.rules, state.mean_pct) for state in states[1:]))


def marked(states: tuple[StateLight, ...]) -> tuple[StateLight, ...]:
    """Of the states of a cruised stand those after a cut: the first two are as it stands and with the midstory out."""
    return states[2:]


def gaps(states: tuple[StateLight, ...], rules: Rules) -> tuple[str, ...]:
    """Where two methods lie further apart than they should, in words: a doubt."""
    most = rules.number("light_gap_pct")
    return tuple(_gap(one) for one in states if one.gap_pct > most)


def _gap(one: StateLight) -> str:
    values = {"state": one.state, "mean": f"{one.mean_pct:.0f}", "model": f"{one.model_pct:.0f}"}
    if one.curve_pct is None:
        return sentence("light_gap", **values)
    return sentence("light_gap_curve", **values, curve=f"{one.curve_pct:.0f}")


def _ground(block: Block) -> str:
    east, north = block.gradient
    slope = (
        "on level ground (the stand has no slope or aspect noted)"
        if not (east or north)
        else "on the stand's slope and aspect"
    )
    return f"Share of the season's light, sky and sun, of open level ground; {slope}. Ground flora is not in it."


def states_told(file: StandFile, ask: Question, wanted: Wants, now: Figure) -> tuple[StateLight, ...]:
    """Light of the states of a cruised stand; empty where it was never cruised or its cruise holds no tree."""
    visit = file.latest("cruise")
    if visit is None or not cruise_of(file, visit).trees:
        return ()
    return drawn_states(now, drawn_light(file, ask.rules, [wanted.middle_ba_ft2_ac], seed=SEED))


def has_stem_map(file: StandFile) -> bool:
    return file.latest("stem map") is not None


def _notes(block: Block, states: list[Light], rules: Rules) -> tuple[str, ...]:
    guessed, most = int((~block.measured).sum()), rules.number("midstory_light_gain_pct")
    notes = [_ground(block)]
    if guessed:
        notes.append(
            f"{guessed} of {len(block.stems)} crowns are predicted from dbh: after a cut, measured radii matter most."
        )
    if len(states) == 1:
        notes.append("The map holds no midstory: what grows below the main canopy takes more light than this shows.")
    elif (gain := states[1].mean_pct - states[0].mean_pct) > most:
        notes.append(
            f"Taking the midstory adds {gain:.0f} points here, more than the {most:g} or so of the trade: "
            "check the crowns drawn."
        )
    return tuple(notes)


def fit(name: str, ask: Question) -> Fit:
    """The scale on extinction that brings the stem map to the stand's own light readings. Raises NotFound when the
    stand has no stem map or no readings."""
    file = stand_file(name).as_of(ask.on)
    block = stem_map.block_of(file, ask.rules)
    return fit_extinction(block, readings.usable_readings(file, LIGHT_MEASURES), ask.rules)


@dataclass(frozen=True)
class UnderModel:
    """Mean light of the states of a map, in percent, with one choice of the model changed."""

    model: str
    means_pct: tuple[float, ...]


# Choices on which publications differ, tried one at a time beside the defaults.
_MODELS: tuple[tuple[str, dict[str, float]], ...] = (
    ("as set", {}),
    ("crowns widest at 40% of their length", {"crown_widest_share": 0.4}),
    ("one openness per crown", {"crown_one_openness": 1}),
    ("even sky", {"sky_brightening": 0.0}),
    ("zenith five times the horizon", {"sky_brightening": 4.0}),
    ("sky light alone", {"light_beam_share": 0.0}),
    ("60% of the light as beam", {"light_beam_share": 0.6}),
)


def models(name: str, ask: Question) -> tuple[UnderModel, ...]:
    """Mean light of the states of a stem map under models that publications differ on, by the directions of a search.
    Raises NotFound when the stand has no stem map."""
    file, rows = stand_file(name).as_of(ask.on), []
    for model, changes in _MODELS:
        rules = ask.rules
        for entry, value in changes.items():
            rules = rules.with_value(entry, value)
        block = stem_map.block_of(file, rules)
        rows.append(UnderModel(model, tuple(100 * _mean(block, standing, rules) for standing in _standings(block))))
    return tuple(rows)


def _standings(block: Block) -> list[stem_map.Mask]:
    everything = block.midstory | block.overwood
    return [everything, block.without_midstory] if block.inject.any() else [everything]


def _mean(block: Block, standing: stem_map.Mask, rules: Rules) -> float:
    return float(stem_map.search_field_of(block, standing, rules)[block.core(rules)].mean())
