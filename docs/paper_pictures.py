"""Draws the first page of every paper from the demo, for the page on papers; run by hand when a paper changes its face, with the
names of those that did, or none for all."""

from __future__ import annotations

import datetime as dt
import sys
import tempfile
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
DEMO_DAY = dt.date(2025, 10, 15)
# Small enough for a page of them, large enough to see what stands where.
_PPI = 52
PAPERS = {path.parent.name for path in (HERE.parent / "src" / "overwood" / "faces" / "papers").glob("*/__init__.py")}
TICKETS = "ticket,species,boards_bf,log_rule\n1,red oak,9000,doyle\n1,white oak,7000,doyle\n2,yellow-poplar,900,doyle\n"


def drawn(name: str, page: int = 1) -> Any:
    """What takes the place of the press: the same page as a picture."""
    from overwood.faces.papers import press

    def set_picture(template: str, data: dict[str, Any], _: Path) -> None:
        press.set_png(template, data, HERE / "pictures" / f"paper-{name}.png", ppi=_PPI, page=page)

    return set_picture


def main() -> None:
    """All papers of the demo, one picture each."""
    from overwood.desk import importing, session

    with tempfile.TemporaryDirectory() as folder:
        session.open_book(Path(folder) / "demo.sqlite3", create=True)
        importing.bring_in(HERE.parent / "demo" / "vesperlick", today=DEMO_DAY)
        _draw(Path(folder))
        session.close()


def _draw(folder: Path) -> None:
    from overwood.desk import answers, archive, fire, futures, management_plan, marking, owner_walk, plan, prescription, timber, walks
    from overwood.faces import papers
    from overwood.faces.papers import press
    from overwood.judgement import prices

    ask, nowhere = answers.question(DEMO_DAY), Path()
    listed = prices.load(next((HERE.parent / "demo").rglob("prices*.toml")))
    wants, on, priced = marking.wants(ask), DEMO_DAY, answers.priced(ask, HERE.parent / "demo" / "prices.toml")
    marked = marking.mark("S2", ask, wants, marking.Effort(1, 5000), years=5)
    cuts = timber.cut_list_of_stems("S2", ask, None, {stop.stem.stem for stop in marked.walk("take")}, "the marking on the table")
    (folder / "tickets.csv").write_text(TICKETS, encoding="utf-8")
    settled = timber.settle(cuts.sale, folder / "tickets.csv", ask.rules)
    counted = walks.plan("S3", "reproduction", ask, walks.design(ask.rules))
    cruised = walks.plan("S3", "cruise", ask, walks.design(ask.rules, points=20, anew=True))
    lights = marking.states_told("S1", ask, wants)
    walk, file = owner_walk.owner_walk("S1", ask), answers.stand_file("S3")
    weather = fire.read_weather(HERE.parent / "demo" / "weather.csv")

    def room(name: str) -> Any:
        import importlib

        return importlib.import_module(f"{papers.__name__}.{name}")

    jobs: dict[str, Any] = {
        "owner_brief": lambda p: p.write(answers.brief("S3", ask), nowhere),
        "owner_walk": lambda p: p.write(walk, on, nowhere),
        "stations": lambda _: room("owner_walk").write_stations(walk, on, nowhere),
        "prescription": lambda p: p.write(prescription.prescription("S3", priced), on, nowhere),
        "management_plan": lambda p: p.write(management_plan.management_plan(ask), nowhere),
        "stand_table": lambda p: p.write(answers.property_advice(ask), nowhere),
        "forecast": lambda p: p.write(*futures.futures("S1", ask, count=300, sets=30, seed=1), on, nowhere),
        "choices_page": lambda p: p.write(timber.compare("S2", ask, listed), on, nowhere),
        "injection_order": lambda p: p.write(*fire.injection("S1", ask), on, nowhere, "both"),
        "burn_plan": lambda p: p.write(
            fire.burn("S7", ask, weather=weather, override="trial of the paper"), on, nowhere, fire.burn_warnings("S7", ask)
        ),
        "marking_sheet": lambda p: p.write(marked, on, nowhere),
        "cut_list": lambda p: p.write(cuts, on, nowhere),
        "residual_sheet": lambda p: p.write(marking.after_cut("S3", ask, wants), on, nowhere, "es"),
        "monitoring_sheet": lambda p: p.write(file, answers.evidence("S3", ask), on, nowhere),
        "tally_sheet": lambda p: p.write(counted, "reproduction", on, nowhere, "both"),
        "points_map": lambda _: room("tally_sheet").write_map(cruised, on, nowhere),
        "labels": lambda _: room("tally_sheet").write_labels(cruised, on, nowhere),
        "marking_rule": lambda _: room("marking_sheet").write_rule(
            marking.rule_sheet("S1", ask, wants, lights), lights, on, nowhere, marking.warnings("S1", ask), "both"
        ),
        "year_orders": lambda p: p.write(
            plan.make(plan.PlanAsked(limits=plan.limits(None, ask), draws=20, paths=50), ask, lambda *_: True), nowhere
        ),
        "tally_summary": lambda p: p.write(timber.timber("S2", ask, listed, ""), on, nowhere),
        "sale_notice": lambda p: p.write(cuts.sale, answers.stand_file("S2"), on, nowhere),
        "settlement_sheet": lambda p: p.write(settled, on, nowhere),
    }
    chosen = sys.argv[1:] or jobs
    for name in chosen:
        press.set_pdf = drawn(name, 2 if name == "marking_sheet" else 1)
        jobs[name](room(name) if name in PAPERS else None)
        print(name)
    made = archive.gather("S2", ask)
    front = {**room("stand_file").content(made, on), "attach": False}
    press.set_png("stand_file/file.typ", front, HERE / "pictures" / "paper-stand_file.png", ppi=_PPI)
    for name in (*chosen, "stand_file"):
        _lighten(HERE / "pictures" / f"paper-{name}.png")


def _lighten(picture: Path) -> None:
    """A few colors are enough for a page of text, and a quarter of the bytes."""
    from PIL import Image

    Image.open(picture).convert("RGB").quantize(24).save(picture, optimize=True)


if __name__ == "__main__":
    main()
