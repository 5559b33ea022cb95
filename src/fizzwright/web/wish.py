"""A wish: what a maker wants of a recipe in; the recipe, its proof and what each demand costs out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from fizzwright.design.composed import Answer, Composed, Progress
from fizzwright.design.goal import Goal
from fizzwright.design.tradeoff import ALONG, Front, front
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.recipe.tidy import set_value
from fizzwright.refusal import Refusal
from fizzwright.web.bench import Bench
from fizzwright.web.documents import LONGEST_NAME
from fizzwright.web.forms import Faults, whole_number
from fizzwright.web.pages import bench_of, page
from fizzwright.web.shelf import stem_of
from fizzwright.web.wish_form import BLANK, BOXES, WishForm, faults_of, goal_text, of_post, told
from fizzwright.web.wish_jobs import Busy, Job, Jobs, Latest, Say
from fizzwright.web.wish_views import answer_view, choices, eased, feasible_words, front_view, shown_conflict

if TYPE_CHECKING:
    from fizzwright.design.glimpse import Glimpse

LOOK_S = 1.5
"""How long a quick look may take while one types."""
POINTS = 7


def _composed(
    goal: Goal,
    bench: Bench,
    on_progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
    brief: bool = False,
) -> Composed:
    """The goal composed as of today when it names no day."""
    from fizzwright.design.composing import compose

    meant = _dated(goal, bench)
    return compose(meant, bench.catalogue, bench.workshop, on_progress=on_progress, stop=stop, brief=brief)


def _glimpsed(goal: Goal, bench: Bench, stop: Callable[[], bool]) -> Glimpse:
    from fizzwright.design.glimpse import glimpse

    return glimpse(_dated(goal, bench), bench.catalogue, bench.workshop, stop=stop)


def _dated(goal: Goal, bench: Bench) -> Goal:
    return goal if goal.made_on else replace(goal, made_on=bench.clock())


@dataclass
class Wishes:
    """The searches of this workbench and the quick look at what is being typed."""

    jobs: Jobs = field(default_factory=Jobs)
    latest: Latest = field(default_factory=Latest)
    compose: Callable[..., Composed] = _composed
    """(goal, bench, on_progress, stop, brief) -> what was composed."""
    glimpse: Callable[..., Glimpse] = _glimpsed
    """(goal, bench, stop) -> whether it can be."""


@dataclass(frozen=True)
class Asked:
    """What a search was started with."""

    form: WishForm
    text: str
    goal: Goal
    told: str
    """The wish in a few words."""


@dataclass
class Found:
    """What the page shows."""

    form: WishForm
    faults: Faults = field(default_factory=Faults)
    job: Job | None = None
    note: str = ""
    document: str = ""
    """The goal document, when it was asked for."""


async def show(request: Request) -> Response:
    """The form as it is when nothing was typed yet."""
    return wish_page(request, Found(BLANK))


async def ask(request: Request) -> Response:
    """The form came back: begin the search, or show or send the goal document it stands for."""
    data = await request.form()
    return await run_in_threadpool(_asked, request, of_post(data), str(data.get("do", "compose")))


async def look(request: Request) -> Response:
    """A quick word on what is typed at this moment: can it all hold?"""
    form = of_post(await request.form())
    return await run_in_threadpool(_looked, request, form)


async def one(request: Request) -> Response:
    """A search: still going, or done."""
    return await run_in_threadpool(_one, request)


async def live(request: Request) -> Response:
    """How the search goes; once it is done, the answer in its place."""
    return await run_in_threadpool(_live, request)


async def stop(request: Request) -> Response:
    """End a search with the best so far."""
    job, along = _job(request), str((await request.form()).get("along", ""))
    searched = _front_job(request, job, along) if along in ALONG else job
    if searched is not None:
        searched.stop()
    return RedirectResponse(_home(job) + ("#tradeoff" if along else "#wish-answer"), 303)


async def keep(request: Request) -> Response:
    """Put an answer among the workshop's recipes under a name; nothing is written over."""
    data = await request.form()
    return await run_in_threadpool(_kept, request, {k: str(data.get(k, "")).strip() for k in ("name", "which", "do")})


async def weigh(request: Request) -> Response:
    """Begin the trade-off of a wish."""
    data = await request.form()
    return await run_in_threadpool(_weighed, request, str(data.get("along", "")))


async def choose(request: Request) -> Response:
    """A point of a trade-off was chosen: its demand goes into the form, and that wish is composed."""
    return await run_in_threadpool(_chosen, request)


def read(bench: Bench, form: WishForm) -> tuple[str, Goal | None, Faults]:
    """The goal document of a form, and the goal; or what is wrong beside each box."""
    from fizzwright.design.reading import read_goal_text

    text, faults = goal_text(form, bench.catalogue, bench.workshop, bench.ids)
    if faults:
        return text, None, faults
    try:
        return text, read_goal_text(text, bench.catalogue, workshop=bench.workshop), faults
    except RecipeRefused as refused:
        return text, None, faults_of(refused.problems)
    except Refusal as refused:
        return text, None, Faults({"": [str(refused)]})


def _asked(request: Request, form: WishForm, do: str) -> Response:
    bench = bench_of(request)
    text, goal, faults = read(bench, form)
    if goal is None:
        return wish_page(request, Found(form, faults), 422)
    if do == "download":
        headers = {"content-disposition": f"attachment; filename*=UTF-8''{quote(stem_of(goal.name))}.toml"}
        return Response(text, media_type="application/toml", headers=headers)
    if do == "document":
        return wish_page(request, Found(form, document=text))
    try:
        job = _begin(request, Asked(form, text, goal, told(form, bench.workshop.currency)))
    except Busy as busy:
        return wish_page(request, Found(form, Faults({"": [str(busy)]})), 503)
    return RedirectResponse(f"/wish/{job.id}#wish-answer", 303)


def _begin(request: Request, asked: Asked) -> Job:
    bench, wishes = bench_of(request), _wishes(request)

    def work(say: Say, stopped: Callable[[], bool]) -> Composed:
        return wishes.compose(asked.goal, bench, say, stopped)

    return wishes.jobs.start(asked.goal.name, f"wish {bench.clock()} {asked.text}", asked, work)


def _looked(request: Request, form: WishForm) -> Response:
    bench = bench_of(request)
    _, goal, faults = read(bench, form)
    found: Glimpse | None = None
    if goal is not None:
        wishes = _wishes(request)
        found = wishes.latest.look(lambda stopped: wishes.glimpse(goal, bench, stopped), LOOK_S)
    return page(
        request,
        "parts/wish_look.html",
        faults=faults,
        boxes=[*(box for box in BOXES if box != "stock_only"), "groups", "sold_in"],
        word=feasible_words(found, bool(faults)),
    )


def _one(request: Request) -> Response:
    job = _job(request)
    asked: Asked = job.asked
    found = Found(asked.form, job=job)
    kept = request.query_params.get("kept", "")
    if kept in bench_of(request).shelf.stems():
        found.note = kept
    at = whole_number(request.query_params.get("ease", ""))
    if at is not None and job.outcome is not None and job.outcome.conflict is not None:
        if at >= len(job.outcome.conflict.easings):
            raise HTTPException(404, "There is no such change of this wish")
        change = eased(asked.form, asked.goal, job.outcome.conflict.easings[at], bench_of(request).workshop)
        found.form = change
    return wish_page(request, found)


def _live(request: Request) -> Response:
    job = _job(request)
    which = request.query_params.get("along", "")
    searched = _front_job(request, job, which) if which in ALONG else job
    if searched is None or not searched.is_running:
        headers = {"hx-retarget": "#wish-answer", "hx-reswap": "innerHTML"}
        return page(request, "parts/wish_answer.html", headers=headers, **_answer(request, Found(BLANK, job=job)))
    return page(request, "parts/wish_progress.html", going=_going(request, searched))


def _kept(request: Request, typed: dict[str, str]) -> Response:
    bench, job = bench_of(request), _job(request)
    asked: Asked = job.asked
    answers = _answers(job)
    at = whole_number(typed["which"] or "0")
    if at is None or at >= len(answers):
        raise HTTPException(404, "There is no such answer to keep")
    name, box = typed["name"], f"keep-{at}"
    try:
        if not name or len(name) > LONGEST_NAME:
            raise Refusal(f"Give the recipe a name of 1 to {LONGEST_NAME} characters.")
        bench.shelf.add(stem_of(name), set_value(answers[at].text, ("name",), name))
    except Refusal as refused:
        found = Found(asked.form, Faults({box: [str(refused)]}), job)
        return wish_page(request, found, 422, typed_name=name)
    stem = quote(stem_of(name))
    return RedirectResponse(f"/recipes/{stem}?done=new" if typed["do"] == "open" else f"{_home(job)}?kept={stem}", 303)


def _weighed(request: Request, along: str) -> Response:
    bench, job = bench_of(request), _job(request)
    asked: Asked = job.asked
    if along not in ALONG:
        raise HTTPException(404, "There is no such trade-off")
    goal, wishes = asked.goal, _wishes(request)

    def work(say: Say, stopped: Callable[[], bool]) -> Front:
        def solve(wanted: Goal) -> Composed:
            return wishes.compose(wanted, bench, None, stopped, True)

        return front(goal, solve, along, POINTS, currency=bench.workshop.currency, on_progress=say, stop=stopped)

    try:
        wishes.jobs.start(asked.goal.name, f"{along} {job.id}", job.id, work)
    except Busy as busy:
        return wish_page(request, Found(asked.form, Faults({"": [str(busy)]}), job), 503)
    return RedirectResponse(f"{_home(job)}#tradeoff", 303)


def _chosen(request: Request) -> Response:
    job, along = _job(request), request.path_params["along"]
    asked: Asked = job.asked
    searched = _front_job(request, job, along)
    at = whole_number(request.path_params["place"])
    if searched is None or searched.outcome is None or at is None or at >= len(searched.outcome.points):
        raise HTTPException(404, "There is no such point of this trade-off any more")
    point = searched.outcome.points[at]
    form = asked.form.at_point(along, point.asked, point.x, bench_of(request).workshop.currency_digits)
    return _asked(request, form, "compose")


def _front_job(request: Request, job: Job, along: str) -> Job | None:
    return _wishes(request).jobs.by_key(f"{along} {job.id}")


def _answers(job: Job) -> tuple[Answer, ...]:
    outcome = job.outcome
    if not isinstance(outcome, Composed) or outcome.answer is None:
        return ()
    return (outcome.answer, *outcome.alternatives)


def _job(request: Request) -> Job:
    job = _wishes(request).jobs.get(request.path_params["job"])
    if job is None or not isinstance(job.asked, Asked):
        raise HTTPException(404, "This search is no longer kept. Go to Wish and press Compose again.")
    return job


def _wishes(request: Request) -> Wishes:
    wishes: Wishes = request.app.state.wishes
    return wishes


def _home(job: Job) -> str:
    return f"/wish/{job.id}"


def _going(request: Request, job: Job) -> dict[str, Any]:
    said = job.progress
    return {
        "text": said.text if said else "Beginning",
        "seconds": f"{_wishes(request).jobs.seconds(job):.0f}",
        "stopping": job.is_stopping,
        "best": said is not None and said.best is not None,
    }


def _answer(request: Request, found: Found) -> dict[str, Any]:
    """What stands beside the wish."""
    bench, job = bench_of(request), found.job
    given: dict[str, Any] = {"job": job, "faults": found.faults, "note": found.note, "going": None, "view": None}
    given |= {"conflict": None, "trouble": "", "fronts": [], "typed_name": ""}
    if job is None:
        return given
    asked: Asked = job.asked
    given["trouble"] = job.trouble
    if job.is_running:
        given["going"] = _going(request, job)
    elif isinstance(job.outcome, Composed):
        given["view"] = answer_view(bench, job.outcome, asked.goal)
        given["conflict"] = shown_conflict(job.outcome, asked.form, asked.goal, bench.workshop)
        given["fronts"] = [_front(request, job, along) for along in ALONG]
        given["typed_name"] = asked.goal.name
    return given


def _front(request: Request, job: Job, along: str) -> dict[str, Any]:
    searched = _front_job(request, job, along)
    view = front_view(searched.outcome, job.id) if searched and isinstance(searched.outcome, Front) else None
    return {
        "along": along,
        "job": searched,
        "going": _going(request, searched) if searched and searched.is_running else None,
        "trouble": searched.trouble if searched else "",
        "view": view,
    }


def wish_page(request: Request, found: Found, status: int = 200, *, typed_name: str | None = None) -> HTMLResponse:
    """The whole page."""
    bench = bench_of(request)
    answer = _answer(request, found)
    if typed_name is not None:
        answer["typed_name"] = typed_name
    searches = [job for job in _wishes(request).jobs.all() if isinstance(job.asked, Asked) and job is not found.job]
    return page(
        request,
        "wish.html",
        "wish",
        status,
        form=found.form,
        document=found.document,
        searches=searches,
        # a browser does not ask again for an address that differs in nothing or only behind the #
        again="" if request.query_params.get("again") else "?again=1",
        **choices(bench),
        **answer,
    )
