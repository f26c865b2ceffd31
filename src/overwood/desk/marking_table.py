"""A marking tried by hand: trees left and taken one by one, or down to a basal area, with light and sums at once."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.desk.answers import Question, stand_file
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.species import by_code
from overwood.ground.units import FT_PER_M
from overwood.judgement import stem_map
from overwood.judgement.marking import search as marking
from overwood.judgement.marking.leave_trees import calls
from overwood.judgement.marking.wants import default_wants
from overwood.judgement.money.stem_value import worth_of
from overwood.judgement.prices import PriceList

BY_HAND = {"by": "hand"}


@dataclass(frozen=True)
class Sums:
    """What a marking leaves, per acre, and the light it gives with the midstory out."""

    leave_trees_ac: float
    residual_ba_ft2_ac: float
    stocking_pct: float
    seed_cover_share: float
    mean_light_pct: float
    in_band_share: float
    sale_bf_ac: float
    sale_usd_ac: float | None
    value_kept_usd_ac: float | None


class MarkingTable:
    """The stem map of a stand on the table: every tree of the main canopy stands or is taken, and the light field
    follows.

    One change costs only the tree's own shadows (``science.light.ledger``), so the answer is there while a finger is
    still down.
    """

    def __init__(self, name: str, ask: Question, prices: PriceList | None = None) -> None:
        file = stand_file(name).as_of(ask.on)
        self.aside: dict[str, tuple[NDArray[np.bool_], Sums]] = {}
        # How the marking on the table was made: by a search with its seed, moves and rows, or by hand; and each aside.
        self.made: dict[str, Any] = dict(BY_HAND)
        self.aside_made: dict[str, dict[str, Any]] = {}
        # Whether the map has changed since the marking that was laid down again was made.
        self.carried_over = False
        self.name, self.wants, self.block = name, default_wants(ask.rules), stem_map.block_of(file, ask.rules)
        self.worth = worth_of(self.block, ask.rules, prices)
        self._state = marking.prepared(self.block, self.wants, ask.rules, self.worth)
        self._place = {self.block.stems[tree].stem: at for at, tree in enumerate(self._state.trees)}
        best = sorted(range(len(self._state.trees)), key=lambda at: -self._state.quality[at])
        must = [self.block.stems[tree].must for tree in self._state.trees]
        # Trees that must stay come first, and those that must go or are no leave trees last, whatever they score.
        self._order = sorted(best, key=lambda at: 0 if must[at] == "leave" else 1 if self._state.open[at] else 2)
        # Light with every tree of the main canopy standing [% of full sun], as the table begins, for the eye to
        # compare.
        self.light_before_pct = self.light_pct()
        self.to_basal_area(self.wants.middle_ba_ft2_ac)

    @property
    def whole_ba_ft2_ac(self) -> float:
        return float(self._state.ba.sum())

    def flip(self, stem: str) -> None:
        """Leave a tree that was taken, or take one that was left. Raises Misuse when the map has no such tree in its
        main canopy."""
        if stem not in self._place:
            raise Misuse(
                f"tree {stem!r} is not in the main canopy of {self.name}.", remedy="Midstory is injected, not marked."
            )
        self._state.flip(self._place[stem])
        if self.made != BY_HAND:
            self.made = self.made | {"by": "a search, then by hand"}

    def to_basal_area(self, ba_ft2_ac: float) -> None:
        """Leave the best-scored trees up to a basal area."""
        standing, total = np.zeros(len(self._order), dtype=bool), 0.0
        for at in self._order:
            if total + self._state.ba[at] > ba_ft2_ac:
                continue
            standing[at], total = True, total + float(self._state.ba[at])
        self._state.stand_as(standing)
        self.made = {"by": "basal area", "ba_ft2_ac": ba_ft2_ac}

    def keep(self, title: str) -> None:
        """Put this marking aside under a name, to compare others with it; the same name takes its place."""
        self.aside.pop(title, None)
        self.aside[title] = (self._state.kept.copy(), self.sums())
        self.aside_made[title] = self.made

    def take_up(self, title: str) -> None:
        """Lay a marking that was put aside on the table again. Raises NotFound when none was put aside under this
        name."""
        self._state.stand_as(self._put_aside(title))
        self.made = self.aside_made.get(title, dict(BY_HAND))

    def look_at(self, title: str) -> tuple[list[str], NDArray[np.float64]]:
        """Stems that a marking put aside leaves, and its light [% of full sun]; the marking on the table stays as it
        is. Raises NotFound when none was put aside under this name."""
        standing, here = self._put_aside(title), self._state.kept.copy()
        self._state.stand_as(standing)
        light_pct = self.light_pct()
        self._state.stand_as(here)
        return self._stems(standing), light_pct

    def _put_aside(self, title: str) -> NDArray[np.bool_]:
        if title not in self.aside:
            raise NotFound(f"no marking was put aside as {title!r}.")
        return self.aside[title][0]

    def content(self) -> dict[str, Any]:
        """The marking and those put aside, as the book keeps them: by the numbers of the stems."""
        aside = {
            title: {"leave": self._stems(standing), "sums": asdict(sums), "made": self.aside_made.get(title)}
            for title, (standing, sums) in self.aside.items()
        }
        leave = self._stems(self._state.kept)
        return {"trees": list(self._place), "leave": leave, "aside": aside, "made": self.made}

    def lay_down(self, content: dict[str, Any]) -> None:
        """Take over what ``content`` gave; trees that are new on the map are taken, and those that are gone are left
        out."""
        self.carried_over = set(content["trees"]) != set(self._place)
        self._state.stand_as(self._standing(content["leave"]))
        self.made = content.get("made") or dict(BY_HAND)
        self.aside_made = {title: aside.get("made") or dict(BY_HAND) for title, aside in content["aside"].items()}
        self.aside = {
            title: (self._standing(kept["leave"]), Sums(**kept["sums"])) for title, kept in content["aside"].items()
        }

    def leave_only(self, stems: Collection[str], made: dict[str, Any] | None = None) -> None:
        """Leave these trees of the main canopy and take the others; ``made`` says how they were chosen."""
        self._state.stand_as(self._standing(stems))
        self.made = made or dict(BY_HAND)

    def below(self, stems: Collection[str]) -> list[str]:
        """Those of some stems that are not in the main canopy, so that the table does not hold them."""
        return [stem for stem in stems if stem not in self._place]

    def _stems(self, standing: NDArray[np.bool_]) -> list[str]:
        return [stem for stem, at in self._place.items() if standing[at]]

    def _standing(self, stems: Collection[str]) -> NDArray[np.bool_]:
        standing = np.zeros(len(self._place), dtype=bool)
        standing[[self._place[stem] for stem in stems if stem in self._place]] = True
        return standing

    def rows(self) -> list[dict[str, object]]:
        """Every stem with its call, as a crew or a spreadsheet takes it."""
        leave = np.zeros(len(self.block.stems), dtype=bool)
        leave[self._state.trees[self._state.kept]] = True
        of = calls(self.block, self.wants, leave)
        return [{**stem, "call": call} for stem, call in zip(self.stems(), of, strict=True)]

    @property
    def leave(self) -> dict[str, bool]:
        """Whether each tree of the main canopy stays."""
        leave_trees = self._state.kept
        return {stem: bool(leave_trees[at]) for stem, at in self._place.items()}

    def light_pct(self) -> NDArray[np.float64]:
        """Light on the floor cell by cell [% of full sun], south row first."""
        return np.asarray(100 * self._state.light())

    def sums(self) -> Sums:
        """What this marking comes to."""
        state, kept, wants = self._state, self._state.kept, self.wants
        light = 100 * state.light()[state.core]
        inside = (light >= wants.light_low_pct) & (light <= wants.light_high_pct)
        value = state.value
        return Sums(
            leave_trees_ac=float(kept.sum() / self.block.acres),
            residual_ba_ft2_ac=state.basal_area,
            stocking_pct=float(state.stocking[kept].sum()),
            seed_cover_share=state.cover,
            mean_light_pct=float(light.mean()),
            in_band_share=float(inside.mean()),
            sale_bf_ac=float(state.volume[~kept].sum()),
            sale_usd_ac=None if value is None else float(value[~kept & state.sold].sum()),
            value_kept_usd_ac=None if value is None else float(value[kept].sum()),
        )

    def stems(self) -> list[dict[str, object]]:
        """Every stem as a page draws it: place, crown, species, size, score, and whether it can be marked."""
        block, rows = self.block, []
        for at, stem in enumerate(block.stems):
            rows.append(
                {
                    "stem": stem.stem,
                    "east_ft": stem.east_ft,
                    "north_ft": stem.north_ft,
                    "crown_ft": float((block.crowns.a[at] + block.crowns.b[at]) / 2 * FT_PER_M),
                    "species": by_code(stem.species).common_name,
                    "oak": bool(block.oak[at]),
                    "dbh_in": stem.dbh_in,
                    "score": round(float(block.score[at]), 1),
                    "marked": stem.stem in self._place,
                    "must": stem.must,
                    "ba_ft2_ac": float(self._state.ba[self._place[stem.stem]]) if stem.stem in self._place else None,
                }
            )
        return rows
