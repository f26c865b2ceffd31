"""Streams, roads and sites on record that an outline comes to touch: it takes them along, whichever way it came in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from overwood.desk import session
from overwood.ground.records import GroundFeature, Stand
from overwood.judgement.net_ground import called, laid_on


def newly_crossed(shapes: Mapping[str, str]) -> list[GroundFeature]:
    """Features on record with other stands that touch outlines as they would be, by stand, as well-known text.

    A feature is on record with the stands it crossed when it came in; an outline drawn later must take it along.
    """
    # Where two stands keep more and less of one stream, the wider ground is the safe one.
    features = sorted(session.ground_features(), key=lambda row: -(row.buffer_ft or 0.0))
    crossed: list[GroundFeature] = []
    for name, wkt in shapes.items() if features else ():
        there = [row for row in features if row.stand == name]
        crossed += laid_on(Stand(stand=name, boundary_wkt=wkt), [row for row in features if row.stand != name], there)
    return crossed


def crossed_words(crossed: Sequence[GroundFeature]) -> list[str]:
    """What a person is told of features that an outline comes to touch."""
    names = [(f"{row.kind} {called(row.kind, row.feature)}".strip(), row.stand) for row in crossed]
    return [f"{name} runs into {stand} now: its ground is kept out of work there too." for name, stand in names]
