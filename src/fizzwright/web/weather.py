"""The weather page: a log of the air in, the windows to make it in out, hour by hour and as a calendar."""

from __future__ import annotations

import re
import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from hashlib import sha256
from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from fizzwright.plan.calendar import calendar_text
from fizzwright.plan.weather import Log, Options, read_log
from fizzwright.plan.weather.clock import zone_of
from fizzwright.plan.windows import Forecast, windows
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review.verdict_of_day import WORDS
from fizzwright.web import sky
from fizzwright.web.bench import Bench
from fizzwright.web.forms import Faults
from fizzwright.web.pages import bench_of, page
from fizzwright.web.shelf import NoRecipe
from fizzwright.web.today import first_recipe, named_recipes, stopped
from fizzwright.wording import sentence

MOST_UPLOAD = 2_500_000
"""Bytes of a log that may come in by the page; the door turns away larger forms. The command reads a year by the minute."""
MOST_LOGS = 6
MOST_DAYS = 28
"""Days drawn hour by hour: four weeks fill a sheet."""
OWN_LOGS = "weather"
"""The folder of the workshop whose logs are offered with one button each."""
BOXES = ("log_id", "log_name", "recipe", "place", "scale", "dates", "where", "zone", "fan")
KEYS = [("dry", "go ahead"), ("hold", "be quick, or do something first"), ("wait", "another hour")]
_OPTION_TALK = re.compile(r"\s*\b(?:Then say|Say|Leave)\b[^.]*?--\S[^\n]*?\.(?=\s|$)|\s*\(--[\w-]+\)")


@dataclass(frozen=True, slots=True)
class Question:
    """What a log leaves open, as radio buttons."""

    box: str
    label: str
    options: tuple[tuple[str, str], ...]


SCALE = Question("scale", "Its temperatures are in", (("C", "°C"), ("F", "°F")))
PLACE = Question("place", "Where was it measured?", (("outdoors", "Outdoors"), ("indoors", "In the making room")))
DATES = Question("dates", "In its dates, first comes the", (("day", "day"), ("month", "month")))


ASKABLE = (PLACE, SCALE, DATES)


@dataclass(frozen=True, slots=True)
class Brought:
    """A log as it was brought in."""

    name: str
    data: bytes


class Tray:
    """The last few logs brought in, by a mark of their bytes: they need not be sent again for each answer."""

    def __init__(self) -> None:
        self._logs: OrderedDict[str, Brought] = OrderedDict()
        self._lock = threading.Lock()

    def put(self, brought: Brought) -> str:
        """Keep a log; its mark."""
        mark = sha256(brought.data).hexdigest()[:24]
        with self._lock:
            self._logs[mark] = brought
            self._logs.move_to_end(mark)
            while len(self._logs) > MOST_LOGS:
                self._logs.popitem(last=False)
        return mark

    def get(self, mark: str) -> Brought:
        """The log of that mark; Refusal when it is no longer here."""
        with self._lock:
            if mark not in self._logs:
                raise Refusal("The log is no longer at hand here. Choose its file once more.")
            return self._logs[mark]


@dataclass
class Found:
    """What a form leads to."""

    form: Mapping[str, str]
    faults: Faults = field(default_factory=Faults)
    asked: list[Question] = field(default_factory=list)
    log: Log | None = None
    mix: Mix | None = None
    forecast: Forecast | None = None


async def show(request: Request) -> Response:
    """The form."""
    form = dict.fromkeys(BOXES, "") | {"recipe": request.query_params.get("recipe", "")[:200]}
    return await run_in_threadpool(weather_page, request, Found(_chosen(bench_of(request), form)))


async def read(request: Request) -> Response:
    """A log comes in, or the answers to what it leaves open."""
    async with request.form() as data:
        form = {box: str(data.get(box, ""))[:300].strip() for box in BOXES}
        own, upload = str(data.get("own", "")), data.get("log")
        raw = await upload.read(MOST_UPLOAD + 1) if isinstance(upload, UploadFile) and upload.filename else None
        name = str(upload.filename) if raw is not None and isinstance(upload, UploadFile) else ""
    return await run_in_threadpool(_read, request, form, own, name, raw)


def _read(request: Request, form: dict[str, str], own: str, name: str, raw: bytes | None) -> Response:
    bench, tray = bench_of(request), _tray(request)
    found = Found(_chosen(bench, form))
    try:
        brought = _brought(bench, own, name, raw)
        if brought is not None:
            mark = tray.put(brought)
            # what was answered about one log says nothing of another
            answers = (
                dict.fromkeys(("place", "scale", "dates", "where"), "") if form["log_id"] not in ("", mark) else {}
            )
            found.form = {**found.form, **answers, "log_id": mark, "log_name": brought.name}
        elif not form["log_id"]:
            raise Refusal("Choose a file first.")
        _work_out(bench, found, tray)
    except Refusal as refused:
        found.faults.add("log", str(refused))
    return weather_page(request, found)


async def calendar(request: Request) -> Response:
    """The windows as an iCalendar file."""
    data = await request.form()
    form = {box: str(data.get(box, ""))[:300].strip() for box in BOXES}
    return await run_in_threadpool(_calendar, request, form)


def _calendar(request: Request, form: dict[str, str]) -> Response:
    bench = bench_of(request)
    found = Found(_chosen(bench, form))
    try:
        _work_out(bench, found, _tray(request))
    except Refusal as refused:
        found.faults.add("log", str(refused))
    if found.faults or found.forecast is None or found.mix is None:
        return weather_page(request, found)
    stem = found.form["recipe"]
    return Response(
        calendar_text(found.forecast, found.mix.recipe.name, bench.now()),
        media_type="text/calendar; charset=utf-8",
        headers={"content-disposition": f"attachment; filename*=UTF-8''{quote(stem)}-windows.ics"},
    )


def _tray(request: Request) -> Tray:
    state = request.app.state
    if not hasattr(state, "tray"):
        state.tray = Tray()
    tray: Tray = state.tray
    return tray


def _chosen(bench: Bench, form: dict[str, str]) -> dict[str, str]:
    """The form with a recipe chosen when nothing was said."""
    return form if form["recipe"] else {**form, "recipe": first_recipe(bench)}


def _own_logs(bench: Bench) -> list[str]:
    folder = bench.workshop.folder / OWN_LOGS
    return sorted(p.name for p in folder.glob("*.csv") if p.is_file()) if folder.is_dir() else []


def _brought(bench: Bench, own: str, name: str, raw: bytes | None) -> Brought | None:
    """The log of the workshop's own folder, or the file that was chosen; None for neither."""
    if own:
        if own not in _own_logs(bench):
            raise Refusal(f"There is no log called {own[:80]} in the workshop's folder {OWN_LOGS}.")
        raw, name = (bench.workshop.folder / OWN_LOGS / own).read_bytes(), own
    if raw is None:
        return None
    name = name.rsplit("/", 1)[-1].rsplit("\\", 1)[-1][:120]
    if len(raw) > MOST_UPLOAD:
        raise Refusal(
            f"{name}: more than {MOST_UPLOAD / 1e6:.1f} MB, too long for this page. In a terminal, fizzwright forecast reads it."
        )
    return Brought(name, raw)


def _work_out(bench: Bench, found: Found, tray: Tray) -> None:
    """The log read and the windows found; Refusal when there is no log, faults for what is still open."""
    form = found.form
    brought = tray.get(form["log_id"])
    header, equals, value = form["where"].partition("=")
    room = bench.workshop.room
    options = Options(
        scale=form["scale"] if form["scale"] in dict(SCALE.options) else "",
        day_first={"day": True, "month": False}.get(form["dates"]),
        zone=form["zone"],
        workshop_zone=room.time_zone if room else "",
        where={header.strip(): value.strip()} if equals else {},
        is_outdoor={"outdoors": True, "indoors": False}.get(form["place"]),
    )
    try:
        found.log = read_log(brought.data, brought.name, options)
    except Refusal as refused:
        _ask(found, str(refused))
        return
    if found.log.is_outdoor is None:
        found.asked.append(PLACE)
        found.faults.add("place", "The log does not say where it was measured. Outdoor air is taken indoors first.")
        return
    try:
        recipe = read_text(bench.shelf.read(form["recipe"]), bench.catalogue, bench.shelf.path(form["recipe"]))
        found.mix = weigh(
            recipe, bench.catalogue, as_of=recipe.made_on or bench.clock(), lot_analyses=bench.workshop.lot_analyses
        )
    except NoRecipe:
        found.faults.add(
            "recipe", "That recipe is no longer there. Choose another." if form["recipe"] else "There is no recipe yet."
        )
        return
    except RecipeRefused as refused:
        found.faults.add("recipe", f"This recipe needs a change first. {refused.problems[0]}")
        return
    try:
        found.forecast = windows(
            found.log,
            found.mix,
            bench.catalogue,
            bench.workshop,
            outdoor=bool(found.log.is_outdoor),
            fan=bool(form["fan"]),
        )
    except Refusal as refused:
        found.faults.add("log", _plain(str(refused)))


def _ask(found: Found, said: str) -> None:
    """What the reader could not settle goes beside the buttons that settle it."""
    text = _plain(said)
    if "--celsius" in said:
        found.asked.append(SCALE)
        found.faults.add("scale", text)
    elif "--day-first" in said and "--month-first" in said:
        found.asked.append(DATES)
        found.faults.add("dates", text)
    elif (places := _places(said)) is not None:
        found.asked.append(places)
        found.faults.add("where", text)
    elif said.startswith("--zone"):
        found.faults.add("zone", text.removeprefix("--zone: "))
    else:
        found.faults.add("log", text)


def _places(said: str) -> Question | None:
    """The question which of several places of a log is meant."""
    asked = re.search(r"under “(?P<header>.+?)”: (?P<places>.+?)\. Which one\?", said)
    if asked is None:
        return None
    places = [place for place in re.split(r", | and ", asked["places"]) if place != "more"]
    return Question("where", "Which place?", tuple((f"{asked['header']}={place}", place) for place in places))


def _plain(said: str) -> str:
    """A sentence of the reader without the names of the command's options."""
    return _OPTION_TALK.sub("", said)


def weather_page(request: Request, found: Found) -> HTMLResponse:
    """The whole page."""
    bench, form = bench_of(request), found.form
    answered = [q for q in ASKABLE if form[q.box] and q not in found.asked]
    return page(
        request,
        "weather.html",
        "weather",
        422 if found.faults else 200,
        form=form,
        faults=found.faults,
        log_id=form["log_id"],
        log_name=form["log_name"],
        questions=[*found.asked, *answered],
        more=[
            replace(q, options=(("", "As the log says"), *q.options))
            for q in ASKABLE
            if q not in (*found.asked, *answered)
        ],
        where="" if any(q.box == "where" for q in found.asked) else form["where"],
        recipes=named_recipes(bench),
        own_logs=_own_logs(bench),
        most_mb=f"{MOST_UPLOAD / 1e6:.1f}",
        keys=KEYS,
        view=_view(bench, found) if found.forecast is not None else None,
    )


def _view(bench: Bench, found: Found) -> dict[str, Any]:
    """The answer, ready to print."""
    assert found.log is not None and found.mix is not None and found.forecast is not None
    forecast = found.forecast
    days = _days(forecast)
    shown = days[-MOST_DAYS:] if len(days) > MOST_DAYS else days
    return {
        "name": found.mix.recipe.name,
        "stopped": stopped(bench, found.form["recipe"]),
        "said": _said(forecast),
        "windows": [{"word": w.word, "when": _when(w.start, w.end), "why": w.why} for w in forecast.windows],
        "carried": [(box, found.form[box]) for box in BOXES if found.form[box]],
        "pictures": [
            {
                "title": " to ".join(dict.fromkeys((_day(week[0][0]), _day(week[-1][0])))),
                "svg": sky.days([(f"{day:%a} {day.day} {day:%b}", words) for day, words in week]),
                "rows": [(_day(day), sky.runs(words)) for day, words in week],
            }
            for week in (shown[i : i + 7] for i in range(0, len(shown), 7))
        ],
        "left_out": f"The last {MOST_DAYS} of {len(days)} days are drawn." if len(days) > MOST_DAYS else "",
        "told": [_plain(text) for text in (*found.log.told, *forecast.told)],
    }


def _said(forecast: Forecast) -> str:
    if not forecast.windows:
        return _plain(forecast.told[-1])
    best = _when(forecast.windows[0].start, forecast.windows[0].end)
    many = "one window" if forecast.found == 1 else f"{forecast.found} windows"
    more = (
        f" The {len(forecast.windows)} best are listed, best first." if forecast.found > len(forecast.windows) else ""
    )
    return f"{sentence(many)} found; the best is {best}.{more}"


def _when(start: datetime, end: datetime) -> str:
    return f"{_day(start)}, {start:%H:%M} to {end:%H:%M}"


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"


def _days(forecast: Forecast) -> list[tuple[date, list[str]]]:
    """Each local day of the log with a word for each hour; of an hour that comes twice the worse word stands."""
    zone = zone_of(forecast.zone)
    days: dict[date, list[int]] = {}
    for moment, place in zip(forecast.utc, forecast.places, strict=True):
        local = datetime.fromtimestamp(int(moment.astype("datetime64[s]").astype(int)), UTC).astimezone(zone)
        hours = days.setdefault(local.date(), [-1] * 24)
        hours[local.hour] = max(hours[local.hour], int(place))
    return [(day, [WORDS[place] if place >= 0 else "" for place in hours]) for day, hours in sorted(days.items())]
