"""Papers: every document a stand can print, shown and handed over as PDF."""

from __future__ import annotations

import datetime as dt
import tempfile
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.http import require_POST

from overwood.desk import answers, burn_table, fire, marking, office, session, timber, walks, work
from overwood.desk.answers import Question
from overwood.desk.session import Printed
from overwood.desk.tally_forms import FORMS
from overwood.faces.pages import asking, coming, lacking, stand
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound
from overwood.judgement.crew_words import sentence
from overwood.judgement.marking.wants import Wants

_MOST_WORDS = 1_500
# Papers that are printed at once, of one person and of all: the desk's threads are few, and others wait for theirs. Our
# own choice.
MOST_OF_ONE, MOST_AT_ONCE = 4, 6
Writes = Callable[..., None]
# Papers of the crew, which are printed in another language as well.
CREW = ("injection", "marking", "cuts", "residual", "monitoring")


def _brief(name: str, ask: Question, target: Path, *, with_sources: bool = False) -> None:
    from overwood.faces.papers import owner_brief, press

    answer = answers.brief_answer(name, ask)
    with press.printed_from(answer.words):
        owner_brief.write(answer.answer, target, with_sources=with_sources)


def _marking(name: str, ask: Question, target: Path, tongue: str) -> None:
    from overwood.faces.papers import marking_sheet, press

    if marking.has_map(name, ask):
        left, wanted, words = _marked(name, ask)
        marked = marking.marked_as(name, ask, wanted, left, years=5, prices=asking.prices())
        with press.printed_from(words):
            marking_sheet.write(marked, ask.on, target, tongue)
        return
    rule, lights = marking.rule_answer(name, ask, marking.wants(ask))
    with press.printed_from(rule.words):
        marking_sheet.write_rule(rule.answer, lights, ask.on, target, marking.warnings(name, ask), tongue)


def _marked(name: str, ask: Question) -> tuple[list[str], Wants, str]:
    """Stems that the marking on the table leaves, what it was to reach, and its name."""
    from overwood.faces.pages import light

    called, made = light.on_table(name)
    wanted = marking.wants(ask, rows=made.get("rows", ()))
    return called["left"], wanted, marking.on_table(name, ask, called, made, asking.prices(), wanted).words


def _injection(name: str, ask: Question, target: Path, tongue: str) -> None:
    from overwood.faces.papers import injection_order, press

    answer = fire.injection_answer(name, ask, product=fire.product_on_table(name))
    file = answers.stand_file(name).as_of(ask.on)
    with press.printed_from(answer.words):
        injection_order.write(answer.answer, file, ask.on, target, tongue, fire.injection_warnings(name, ask))


def _prescription(name: str, ask: Question, target: Path) -> None:
    from overwood.desk import prescription as prescribing
    from overwood.faces.papers import prescription, press

    answer = prescribing.answer_of(name, ask)
    with press.printed_from(answer.words):
        prescription.write(answer.answer, ask.on, target)


def _walk(name: str, ask: Question, target: Path, *, stations: bool = False) -> None:
    from overwood.desk import owner_walk as walking
    from overwood.faces.papers import owner_walk, press

    answer = walking.answer_of(name, ask)
    with press.printed_from(answer.words):
        (owner_walk.write_stations if stations else owner_walk.write)(answer.answer, ask.on, target)


def _residual(name: str, ask: Question, target: Path, tongue: str) -> None:
    from overwood.faces.papers import residual_sheet

    residual_sheet.write(marking.after_cut(name, ask, marking.wants(ask)), ask.on, target, tongue)


def _monitoring(name: str, ask: Question, target: Path, tongue: str) -> None:
    from overwood.faces.papers import monitoring_sheet

    monitoring_sheet.write(answers.stand_file(name).as_of(ask.on), answers.evidence(name, ask), ask.on, target, tongue)


def _tally(name: str, ask: Question, target: Path) -> None:
    from overwood.faces.papers import tally_summary

    tally_summary.write(timber.timber(name, ask, asking.prices(), ""), ask.on, target)


def _notice(name: str, ask: Question, target: Path) -> None:
    from overwood.faces.papers import press, sale_notice

    if marking.has_map(name, ask):
        made, words = _to_cut(name, ask)
        sale = made.sale
    else:
        answer = timber.sale_answer(name, ask, asking.prices())
        sale, words = answer.answer.sale, answer.words
    with press.printed_from(words):
        sale_notice.write(sale, answers.stand_file(name), ask.on, target)


def _to_cut(name: str, ask: Question) -> tuple[timber.CutList, str]:
    """The trees that the marking on the table takes and sells, and the marking's name."""
    left, wanted, words = _marked(name, ask)
    sold = marking.to_sell(name, ask, wanted, left)
    return timber.cut_list_of_stems(name, ask, asking.prices(), sold, sentence("marked_table")), words


def _cuts(name: str, ask: Question, target: Path, tongue: str) -> None:
    from overwood.faces.papers import cut_list, press

    if not marking.has_map(name, ask):
        lacking.no_map(name)
    made, words = _to_cut(name, ask)
    with press.printed_from(words):
        cut_list.write(made, ask.on, target, tongue)


def _choices(name: str, ask: Question, target: Path) -> None:
    from overwood.faces.papers import choices_page, press

    answer = timber.choices_answer(name, ask, lacking.price_list())
    with press.printed_from(answer.words):
        choices_page.write(answer.answer, ask.on, target)


def _burn_plan(name: str, ask: Question, target: Path) -> None:
    from overwood.faces.papers import burn_plan, press

    lacking.burn_allowed(fire.gates_of(name, ask))
    answer = burn_table.on_table(name, ask, asking.law(), asking.prices())
    with press.printed_from(answer.words):
        burn_plan.write(answer.answer, ask.on, target, fire.burn_warnings(name, ask))


def _forecast(name: str, ask: Question, target: Path) -> None:
    from overwood.faces.pages import futures
    from overwood.faces.papers import forecast, press

    result, answer = futures.printable_run(name)
    with press.printed_from(answer.words):
        forecast.write(result, answers.stand_file(name).as_of(ask.on), ask.on, target)


PAPERS: dict[str, tuple[str, str, Writes]] = {
    "brief": ("Owner's brief", "two pages: what is advised, when, why, how sure, what it has cost", _brief),
    "brief-sources": (
        "Brief with reasons and sources",
        "the two pages and a third: the forester's reasons in full, and the sources",
        partial(_brief, with_sources=True),
    ),
    "prescription": (
        "Written prescription",
        "what is found, wanted, weighed and to be done, for the silviculturist to sign",
        _prescription,
    ),
    "walk": ("Walk for the owner", "ten stops in plain words, a leaflet of two sides", _walk),
    "stations": (
        "Stations of a field day",
        "a sheet for each stop of the owner's walk: words, questions, a code for a phone",
        partial(_walk, stations=True),
    ),
    "forecast": (
        "Forecast for the owner",
        "what comes back under each course, in frequencies: the run that lies under Outcomes and counts",
        _forecast,
    ),
    "injection": ("Injection order", "stems, cuts, solution and days for the crew", _injection),
    "plan": ("Draft burn plan", "for the burn boss to complete; a gate that says no refuses it", _burn_plan),
    "marking": (
        "Marking sheet",
        "which trees stay, for the marking crew: the marking that lies on the table",
        _marking,
    ),
    "cuts": ("Cut list", "every tree to be cut, for the logger: the marking that lies on the table", _cuts),
    "residual": ("Residual check sheet", "what the cut should leave, and lines to check it on", _residual),
    "monitoring": ("Monitoring sheet", "for the next count on the same plots", _monitoring),
    "tally": ("Tally summary", "volume by species, product and grade", _tally),
    "notice": ("Sale notice", "for sealed bids on marked trees; your attorney completes the terms", _notice),
    "choices": ("Choices in money", "one page for the owner; needs your price list", _choices),
}
# For whom papers are, in the order of the page.
_READERS = {
    "For the owner": ("brief", "brief-sources", "walk", "stations", "forecast", "choices"),
    "To be signed": ("prescription", "plan"),
    "For the crew": ("injection", "marking", "residual", "monitoring"),
    "For the sale": ("cuts", "tally", "notice"),
}
# The work by this name: a paper that is printed and kept.
PRINTING = "paper"


@coming.at_once("Papers", lambda _request, given: (lacking.REFUSED.format(given["name"]),), "papers")
def page(request: HttpRequest, name: str) -> HttpResponse:
    """Every paper of a stand, those that are being printed, and those that were kept."""
    from overwood.faces.papers import language

    own = answers.stand_name(name)
    mine = [one for one in work.mine() if one.kind == PRINTING and one.asked["stand"] == own]
    context: dict[str, Any] = {
        "title": f"Papers, {name}",
        "name": name,
        "crew": CREW,
        "languages": language.LANGUAGES,
        "language": _language(request),
        "readers": {who: [(key, *PAPERS[key][:2]) for key in keys] for who, keys in _READERS.items()},
        "printing": [(one, _making(name, one.number)) for one in mine if not one.ended],
        "refused": mine[0].fault if mine else "",
        "lacking": lacking.lacking(name, asking.question()),
        "kept": session.kept_papers(name),
        "sheets": FORMS,
    }
    return render(request, "papers.html", context)


class _Press:
    """Who has how many papers under the press."""

    def __init__(self) -> None:
        self.lock, self.printing = threading.Lock(), Counter[str]()

    @contextmanager
    def turn(self, who: str) -> Iterator[None]:
        """Room for one more paper of this person. Raises Misuse when as many are being printed as one person, or all,
        may have at once."""
        with self.lock:
            if self.printing[who] >= MOST_OF_ONE or self.printing.total() >= MOST_AT_ONCE:
                raise Misuse("other papers are being printed.", remedy="Wait for them, and ask for this one again.")
            self.printing[who] += 1
        try:
            yield
        finally:
            with self.lock:
                self.printing[who] -= 1


PRESS = _Press()


def _language(request: HttpRequest) -> str:
    """The language of a crew's paper that is asked for. Raises Misuse when papers are not made in it."""
    from overwood.faces.papers import language

    return language.words("", (request.POST or request.GET).get("language") or language.ENGLISH).language


def _known(which: str, tongue: str) -> None:
    """Raises NotFound where there is no such paper, Misuse where it is not made in a language."""
    if which not in PAPERS:
        raise NotFound(f"there is no paper {which!r}.", remedy=f"There are {', '.join(PAPERS)}.")
    if tongue != "en" and which not in CREW:
        raise Misuse(
            f"the {PAPERS[which][0].lower()} is made in English only.",
            remedy="Papers of the crew are made in Spanish too.",
        )


def _made(name: str, which: str, ask: Question, words: str, tongue: str = "en") -> bytes:
    from overwood.faces.papers import press

    _known(which, tongue)
    with PRESS.turn(office.acting()), tempfile.TemporaryDirectory() as folder, press.own_words(words):
        target = Path(folder) / "paper.pdf"
        PAPERS[which][2](name, ask, target, *([tongue] if which in CREW else []))
        return target.read_bytes()


def _pdf(content: bytes, name: str, which: str) -> HttpResponse:
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{stand.safe(name)}-{which}.pdf"'
    return response


def paper(request: HttpRequest, name: str, which: str) -> HttpResponse:
    """One paper as PDF, to look at."""
    return _pdf(
        _made(name, which, asking.question(), request.GET.get("words", "")[:_MOST_WORDS], _language(request)),
        name,
        which,
    )


# Papers of a visit beside its sheet, and the kind of visit they are for where none is named.
_WOODS = {"map": "cruise", "labels": "cruise", "ticks": "reproduction"}


def for_woods(request: HttpRequest, name: str, what: str) -> HttpResponse:
    """A blank tally sheet for a kind of visit, sheets of boxes, or the map or the labels of its points, as PDF."""
    from overwood.faces.papers import tally_sheet

    tongue = _language(request)
    ask, kind = asking.question(), request.GET.get("kind", _WOODS[what]) if what in _WOODS else what
    if kind not in FORMS:
        raise NotFound(f"there is no sheet {what!r}.", remedy=f"There are {', '.join((*_WOODS, *FORMS))}.")
    with PRESS.turn(office.acting()), tempfile.TemporaryDirectory() as folder:
        target, plan = Path(folder) / "paper.pdf", walks.plan(name, kind, ask, walks.design(ask.rules))
        if what == "map":
            tally_sheet.write_map(plan, ask.on, target, tongue)
        elif what == "labels":
            tally_sheet.write_labels(plan, ask.on, target, _first(request), tongue)
        elif what == "ticks":
            tally_sheet.write_ticks(plan, ask.on, target, _first(request), tongue)
        else:
            tally_sheet.write(plan, kind, ask.on, target, tongue)
        return _pdf(target.read_bytes(), name, f"{kind.replace(' ', '-')}-{what if what in _WOODS else 'sheet'}")


def _first(request: HttpRequest) -> int:
    """Number of the first label or plot that is asked for."""
    text = request.GET.get("first", "1")
    if not text.isdecimal() or not 1 <= int(text) <= 5000:
        raise Misuse(f"{text!r} is no number of a point.", remedy="Give a whole number from 1 on.")
    return int(text)


@require_POST
def keep(request: HttpRequest, name: str, which: str) -> HttpResponse:
    """Have a paper printed with the signer's words and kept with the versions it was made from."""
    _known(which, tongue := _language(request))
    asked = {"stand": answers.stand_name(name), "which": which, "words": request.POST.get("words", ""),
        "language": tongue, "on": asking.question().on.isoformat()}  # fmt: skip
    begun = work.begin(PRINTING, f"{PAPERS[which][0].lower()} of {name}", asked, len(_STEPS))
    asking.note(request, f"{begun.title}, asked for as work {begun.number}")
    return HttpResponseRedirect("../#kept")


_STEPS = ("working it out", "setting its pages", "keeping it")


def do_paper(asked: dict[str, Any], step: work.Step) -> dict[str, Any]:
    """The printing itself, as a worker does it: in the units of who asked."""
    from overwood.faces.papers import press

    def go_on(done: int) -> None:
        if not step(done, _STEPS[done]):
            raise Misuse("stopped before it was printed.", remedy="Print it again.")

    go_on(0)
    with measures.in_units(asked["units"]), press.before_setting(lambda: go_on(1)):
        number = _print_and_keep(
            asked["stand"], asked["which"], asking.question(asked["on"]), asked["words"], asked["language"]
        )
    return {"paper": number}


def making(request: HttpRequest, name: str, number: int) -> HttpResponse:
    """How far a paper is; the page is loaded again when it is kept. A POST stops it."""
    return coming.of_work(request, number, _making(name, number))


def _making(name: str, number: int) -> str:
    return f"/papers/{stand.quoted(name)}/made/{number}/"


@require_POST
def archive(request: HttpRequest, name: str) -> HttpResponse:
    """The file of a stand for an auditor, as a zip; its seal goes into the audit log."""
    from overwood.desk import archive as archiving
    from overwood.faces.papers import stand_file

    ask = asking.question()
    with PRESS.turn(office.acting()), tempfile.TemporaryDirectory() as folder:
        made, target = archiving.gather(name, ask), Path(folder) / "stand.zip"
        seal = archiving.write(made, stand_file.made(made, ask.on), target)
        content = target.read_bytes()
    asking.note(request, f"{name}, seal {seal}")
    response = HttpResponse(content, content_type="application/zip")
    response["Content-Disposition"] = f'attachment; filename="{stand.safe(name)}-file-{seal[:16]}.zip"'
    return response


def print_and_keep(request: HttpRequest, name: str, which: str, words: str, tongue: str = "en") -> int:
    """Make a paper and keep it; returns its number."""
    number = _print_and_keep(name, which, asking.question(), words, tongue)
    asking.note(request, f"{which} of {name}, kept as {number}")
    return number


def _print_and_keep(name: str, which: str, ask: Question, words: str, tongue: str) -> int:
    words = words.strip()[:_MOST_WORDS]
    content = _made(name, which, ask, words, tongue)
    title = PAPERS[which][0] + {"en": "", "es": " in Spanish", "both": " in English and Spanish"}[tongue]
    title += " in metric units" if measures.is_metric() else ""
    printed = Printed(which=which, title=title, own_words=words, made_on=ask.on, rules_version=ask.rules.version)
    return session.keep_paper(name, printed, content)


def invite(request: HttpRequest, name: str, number: int) -> HttpResponse:
    """Give an address out that shows this one kept paper to its owner, until a day."""
    from overwood.faces.pages.office import guest_address

    if request.method != "POST" or not asking.DESK.office:
        return HttpResponseRedirect(f"/papers/{stand.quoted(name)}/#kept")
    days = request.POST.get("days", "")
    if not days.isdigit():
        raise Misuse(f"{days!r} is no number of days.", remedy="Give a whole number.", field="days")
    to_call = (request.POST.get("contact", "")[:120], request.POST.get("telephone", "")[:120])
    token = office.new_guest(asking.person(request).name, name, number, int(days), dt.date.today(), to_call)
    asking.note(request, f"paper {number} of {name}, for {days} days")
    context = {
        "title": "Address for the owner",
        "name": name,
        "number": number,
        "days": days,
        "address": guest_address(request, token),
    }
    return render(request, "invited.html", context)


def kept(request: HttpRequest, name: str, number: int) -> HttpResponse:
    """A kept paper as it was printed."""
    return _pdf(session.kept_paper(name, number), name, f"kept-{number}")
