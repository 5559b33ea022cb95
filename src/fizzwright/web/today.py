"""Today: the room's air in, the verdict and the plan out; and the squeeze test beside the bowl."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from fizzwright.plan.readings import Kept, clock_of, keep, moment_of, room_humidity_pct, room_temperature_c
from fizzwright.plan.today import ANSWERS, Today, added_g, air_picture, answer_of, minutes_since, squeezed, today
from fizzwright.plan.weather.line import read_line
from fizzwright.recipe.document import parse, read_text
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.refusal import Refusal
from fizzwright.review.room import Room, read_room
from fizzwright.review.squeezing import ANSWERS as LOOKS
from fizzwright.review.squeezing import Answer, Squeeze
from fizzwright.web import charts, sky
from fizzwright.web.bench import Bench
from fizzwright.web.documents import card
from fizzwright.web.forms import Faults
from fizzwright.web.pages import bench_of, page, views_of
from fizzwright.web.shelf import NoRecipe
from fizzwright.web.views import curve_view, verdict_sentence
from fizzwright.wording import air_text, sentence

WINDOWS = [("shut", "Shut"), ("open", "A hand's width open")]
LONGEST_LINE = 20_000
"""Characters of a sensor's lines: only the last of them counts."""
BOXES = ("room", "humidity", "line", "recipe", "window", "fan", "added", "minutes", "read_at")


@dataclass(frozen=True, slots=True)
class TodayForm:
    """The boxes as typed."""

    typed: Mapping[str, str] = field(default_factory=dict)

    def __getitem__(self, box: str) -> str:
        return self.typed.get(box, "")

    def but(self, **boxes: str) -> TodayForm:
        """The same with other words in some boxes."""
        return replace(self, typed={**self.typed, **boxes})

    @property
    def query(self) -> str:
        """What an address must carry to show the same again."""
        return urlencode({box: self[box] for box in ("recipe", "window", "fan") if self[box]})


@dataclass
class Found:
    """What a form leads to."""

    form: TodayForm
    faults: Faults = field(default_factory=Faults)
    told: tuple[str, ...] = ()
    """How a pasted line was read."""
    room: Room | None = None
    today: Today | None = None
    squeeze: Squeeze | None = None


async def show(request: Request) -> Response:
    """The boxes, and the answer when there is a reading of today."""
    form = TodayForm(_texts(request.query_params))
    return await run_in_threadpool(_opened, request, form, "kept" in request.query_params)


async def answer(request: Request) -> Response:
    """The boxes came back: the verdict, a reading to keep, or an answer of the squeeze test."""
    data = await request.form()
    return await run_in_threadpool(_answered, request, TodayForm(_texts(data)), str(data.get("do", "look")))


def _texts(data: Any) -> dict[str, str]:
    return {box: str(data.get(box, ""))[-LONGEST_LINE:].strip() for box in BOXES}


def _opened(request: Request, form: TodayForm, just_kept: bool) -> Response:
    bench = bench_of(request)
    found = Found(_chosen(bench, form))
    air = bench.todays_room()
    if form["room"] or form["humidity"] or form["line"]:
        _read_air(bench, found)
    elif air.kept is not None:
        found.form = found.form.but(room=f"{air.kept.room_c:g} C", humidity=f"{air.kept.humidity_pct:g} %")
        found.room = air.room
    _work_out(bench, found)
    status = 422 if found.faults else 200
    return today_page(request, found, status=status, kept=just_kept and air.kept is not None)


def _answered(request: Request, form: TodayForm, do: str) -> Response:
    bench = bench_of(request)
    found = Found(_chosen(bench, form))
    _read_air(bench, found)
    if do == "keep" and found.room is not None:
        try:
            keep(bench.workshop.folder, Kept(_read_at(found, bench), found.room.room_c, found.room.humidity_pct))
        except Refusal as refused:
            found.faults.add("", str(refused))
        else:
            return RedirectResponse(f"/today?{found.form.query}&kept=1", 303)
    _work_out(bench, found)
    said = answer_of(do)
    if said is not None and found.today is not None:
        _squeeze(bench, found, found.today, said)
    return today_page(request, found, status=422 if found.faults else 200)


def _chosen(bench: Bench, form: TodayForm) -> TodayForm:
    """The form with a recipe and a window chosen when nothing was said."""
    if not form["recipe"]:
        form = form.but(recipe=first_recipe(bench))
    return form if form["window"] in dict(WINDOWS) else form.but(window="shut")


def _read_air(bench: Bench, found: Found) -> None:
    """The room of a pasted line, or else of the two boxes; what is wrong goes beside its box."""
    form = found.form
    if form["line"]:
        try:
            reading = read_line(form["line"])
            found.room = read_room(bench.workshop, bench.catalogue, reading.room_c, reading.humidity_pct)
        except (Refusal, ValueError) as refused:
            found.faults.add("line", sentence(str(refused)))
            return
        boxes = {"room": f"{reading.room_c:.4g} C", "humidity": f"{reading.humidity_pct:.4g} %", "line": ""}
        when = reading.when
        if when is not None and when.tzinfo is None:
            when = when.replace(tzinfo=clock_of(bench.workshop)) if clock_of(bench.workshop) else when.astimezone()
        at = f"{when.astimezone(UTC).isoformat()} {boxes['room']} {boxes['humidity']}" if when else ""
        found.form, found.told = form.but(**boxes, read_at=at), reading.told
        return
    read = {}
    for box, reader in (("room", room_temperature_c), ("humidity", room_humidity_pct)):
        try:
            read[box] = reader(form[box])
        except Refusal as refused:
            found.faults.add(box, str(refused))
    if len(read) == 2:
        found.room = read_room(bench.workshop, bench.catalogue, read["room"], read["humidity"])


def _read_at(found: Found, bench: Bench) -> datetime:
    """The moment a reading is kept at: the sensor's own when the boxes still hold what its line said, else now."""
    at, _, boxes = found.form["read_at"].partition(" ")
    if at and boxes == f"{found.form['room']} {found.form['humidity']}":
        moment = moment_of(at)
        if moment is None:
            raise Refusal(f"The moment of the reading came back as {at[:40]!r}. Paste the line once more.")
        return moment.astimezone(UTC)
    return bench.now()


def _work_out(bench: Bench, found: Found) -> None:
    """The verdict for the chosen recipe in this air, when both can be read."""
    if found.room is None:
        return
    stem = found.form["recipe"]
    try:
        recipe = read_text(bench.shelf.read(stem), bench.catalogue, bench.shelf.path(stem))
        found.today = today(recipe, bench.catalogue, bench.workshop, found.room, recipe.made_on or bench.clock())
    except NoRecipe:
        found.faults.add(
            "recipe", "That recipe is no longer there. Choose another." if stem else "There is no recipe yet."
        )
    except RecipeRefused as refused:
        found.faults.add("recipe", f"This recipe needs a change first. {refused.problems[0]}")
    except Refusal as refused:
        found.faults.add("recipe", str(refused))


def _squeeze(bench: Bench, found: Found, day: Today, said: Answer) -> None:
    read = {}
    for box, reader in (("added", added_g), ("minutes", minutes_since)):
        try:
            read[box] = reader(found.form[box], day, bench.catalogue)
        except Refusal as refused:
            found.faults.add(box, str(refused))
    if len(read) == 2:
        found.squeeze = squeezed(day, bench.catalogue, said, read["added"], read["minutes"])


def today_page(request: Request, found: Found, *, status: int = 200, kept: bool = False) -> HTMLResponse:
    """The whole page."""
    bench, form = bench_of(request), found.form
    return page(
        request,
        "today.html",
        "today",
        status,
        form=form,
        faults=found.faults,
        told=found.told,
        kept=kept,
        air=bench.air(),
        recipes=named_recipes(bench),
        windows=WINDOWS,
        answers=[(answer, ANSWERS[answer], looks) for answer, looks in LOOKS.items()],
        squeeze=found.squeeze,
        view=_view(bench, found.today, form) if found.today else None,
    )


def named_recipes(bench: Bench) -> list[tuple[str, str]]:
    """Every recipe on the shelf with its name, to choose from."""
    return [(stem, str(_told(bench, stem).get("name", stem))) for stem in bench.shelf.stems()]


def first_recipe(bench: Bench) -> str:
    """The recipe looked at when none was chosen: the first that is pressed and that nothing stops, else the first."""
    stems = bench.shelf.stems()
    pressed = (stem for stem in stems if _told(bench, stem).get("kind") != "powder")
    fit = (stem for stem in pressed if card(bench, stem).verdict not in ("stop", "change"))
    return next(fit, stems[0] if stems else "")


def _told(bench: Bench, stem: str) -> Mapping[str, Any]:
    """What a recipe's document says; nothing when it cannot be read (choosing it then says why)."""
    try:
        return _parsed(bench.shelf.read(stem))
    except (NoRecipe, RecipeRefused):
        return {}


@lru_cache(maxsize=256)
def _parsed(text: str) -> Mapping[str, Any]:
    return parse(text)[0]


def stopped(bench: Bench, stem: str) -> str:
    """What stops the recipe whatever the air, in a sentence; empty when nothing does."""
    _, report = bench.review(bench.shelf.read(stem), stem)
    return verdict_sentence(report) if report.verdict == "stop" else ""


def _view(bench: Bench, found: Today, form: TodayForm) -> dict[str, Any]:
    """The answer, ready to print."""
    views = views_of(bench)
    picture = air_picture(found.room, found.danger.value)
    notices = [views.notice("making_day", n) for n in found.section.notices if not n.standing and n.level != "good"]
    return {
        "name": found.recipe.name,
        "is_powder": found.size.is_powder,
        "room": air_text(found.room.room_c, found.room.humidity_pct),
        "word": found.day.word,
        "sentence": found.day.sentence,
        "stopped": stopped(bench, form["recipe"]),
        "changes": found.day.changes,
        "steps": found.steps(is_open=form["window"] == "open", fan=bool(form["fan"])),
        "notices": notices,
        "cautions": tuple(views.notice("making", n) for n in found.cautions),
        "first": found.room_ready,
        "air": charts.drawn(sky.air(picture)),
        "air_title": picture.title,
        "air_rows": sky.air_rows(picture),
        "curves": [(curve_view("making_day", c), charts.drawn(charts.curve(c))) for c in found.section.curves],
        "tables": found.section.tables,
    }
