"""A burn on the table of a stand: with the weather that was laid there and counted, for its page, its papers and the
API alike."""

from __future__ import annotations

import base64
import functools
import hashlib
import tempfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from overwood.desk import fire, kept, work
from overwood.desk.answers import Question, stand_file, stand_name
from overwood.desk.fire import Burn, DaysCounted
from overwood.desk.kept import KeptAnswer, NamedAnswer
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.weather import Weather
from overwood.judgement.fire.card import Law, load_law
from overwood.judgement.prices import PriceList

# The work and the answer by this name.
DAYS = "burn days"
BURN = "burn"
# Weather that is laid on a stand's table is everybody's, as the days counted by it are.
_ALL = ""


def answer_of(
    name: str,
    ask: Question,
    *,
    weather: Weather | None,
    law: Law | None,
    prices: PriceList | None,
    progress: work.Step = lambda done, note: True,
    **how: Any,
) -> NamedAnswer[Burn]:
    """A burn by this weather, law and price list, as it lies in the book; ``how`` is what :func:`fire.burn` takes."""
    settings = {"weather": _named(weather), "law": law or Law(), "prices": kept.list_named(prices), **how}
    make = functools.partial(fire.burn, name, ask, weather=weather, law=law, prices=prices, progress=progress, **how)
    return kept.lay(stand_file(name).stand.stand, BURN, ask, settings, make)


def _named(weather: Weather | None) -> dict[str, str]:
    """A weather file among the settings: its name, and a digest of every hour as it was read."""
    if weather is None:
        return {}
    digest = hashlib.sha256()
    for name, value in vars(weather).items():
        digest.update(name.encode() + (value.tobytes() if hasattr(value, "tobytes") else repr(value).encode()))
    return {"file": weather.file, "digest": digest.hexdigest()[: kept.DIGITS]}


def packed(name: str, content: bytes) -> dict[str, str]:
    """A file as a draft carries it."""
    return {"name": Path(name).name, "packed": base64.b64encode(zlib.compress(content)).decode()}


def _read(file: dict[str, str], read: Callable[[Path], Any]) -> Any:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / file["name"]
        path.write_bytes(zlib.decompress(base64.b64decode(file["packed"])))
        return read(path)


def law_of(laid: dict[str, Any]) -> Law | None:
    """The law file that was sent beside the weather."""
    law: Law | None = _read(laid["law"], load_law) if laid["law"] else None
    return law


def weather_of(laid: dict[str, Any]) -> Weather:
    """The weather that was sent."""
    how = functools.partial(fire.read_weather, columns={}, units={}, station="", **laid["how"])
    weather: Weather = _read(laid["file"], how)
    return weather


def begin_days(name: str, ask: Question, laid: dict[str, Any]) -> work.Work:
    """Lay weather on the table of a stand and have its days counted."""
    asked = {"stand": stand_name(name), "on": ask.on.isoformat(), "file": laid["file"]["name"]}
    begun = work.begin(DAYS, f"burn days of {name}", asked | {"laid": kept.digest_of(laid)}, _steps(name, ask))
    work.keep_draft(DAYS, asked["stand"], str(begun.number), laid, None, who=_ALL)
    return begun


def _steps(name: str, ask: Question) -> int:
    return len(fire.fuels_of(name, ask)) + 1


def count_days(
    asked: dict[str, Any], ask: Question, law: Law, prices: PriceList | None, step: work.Step
) -> dict[str, Any]:
    """The count itself, as a worker does it: the burn with its weather is kept, and the days that the page shows."""
    name, laid = asked["stand"], _laid(asked["stand"])
    if laid is None or kept.digest_of(laid) != asked["laid"]:
        raise NotFound("another weather file lies there since.", remedy="Its days are counted; or send this one again.")
    step(0, f"reading {asked['file']}")
    burn = answer_of(name, ask, weather=weather_of(laid), law=law_of(laid) or law, prices=prices, progress=step)
    if not burn.answer.days:
        raise Misuse("stopped before the days of any fuel model were counted.", remedy="Send the file again.")
    # A count that was stopped is on the page alone: a paper has the days of every fuel model.
    number = burn.kept.number if burn.kept and len(burn.answer.days) == len(burn.answer.fuels) else None
    settings = {"file": asked["file"], **laid["how"], "laid": asked["laid"], BURN: number}
    return {"answer": kept.keep(name, DAYS, ask, settings, fire.days_counted(burn.answer, ask.rules)).number}


def _laid(own: str) -> dict[str, Any] | None:
    draft = work.draft(DAYS, own, who=_ALL)
    return draft.content if draft else None


def counted(name: str) -> tuple[KeptAnswer, DaysCounted] | None:
    """The days counted last. Raises Unread when a program of another version kept them."""
    answer = kept.newest(stand_name(name), DAYS)
    return (answer, kept.shaped(answer, DaysCounted)) if answer else None


def is_stale(answer: KeptAnswer, ask: Question) -> bool:
    """Whether records or rules changed since the days were counted."""
    return answer.is_old or answer.rules_version != ask.rules.version


def on_table(name: str, ask: Question, law: Law, prices: PriceList | None) -> NamedAnswer[Burn]:
    """The burn that a paper prints: with the weather by which the days of the page were counted, where any were. Raises
    Misuse when another file lies there since, or records or rules changed since the count."""
    own = stand_name(name)
    laid, days = _laid(own), kept.newest(own, DAYS)
    if laid is None or days is None:
        return answer_of(name, ask, weather=None, law=law, prices=prices)
    if days.settings.get("laid") != kept.digest_of(laid):
        raise Misuse(
            "the days on the page were counted by another weather file than lies there now.",
            remedy="Wait until its days are counted, or send the file again.",
        )
    if is_stale(days, ask):
        raise Misuse(
            "records or rules have changed since the burn days were counted.",
            remedy="Send the weather file again on the page Fire and injection; the plan prints no days of other "
            "records.",
        )
    return answer_of(name, ask, weather=weather_of(laid), law=law_of(laid) or law, prices=prices)


def kept_on_table(name: str, ask: Question) -> KeptAnswer | None:
    """The burn with its weather as the count kept it; None where none is there for the records and rules as they
    are."""
    days = kept.newest(stand_name(name), DAYS)
    number = days.settings.get(BURN) if days and not is_stale(days, ask) else None
    return kept.of(number) if number else None
