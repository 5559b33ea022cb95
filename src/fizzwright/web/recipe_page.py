"""One recipe: looked at, changed, resized, saved."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from fizzwright.plan.sizing import Sized, resize
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.refusal import Refusal
from fizzwright.web import changing, charts, drawings, words
from fizzwright.web.bench import Bench, Looked
from fizzwright.web.documents import conflict_page, document_page
from fizzwright.web.forms import (
    LINE_KEYS,
    PLACES,
    TAP,
    Faults,
    NoForm,
    RecipeForm,
    of_document,
    of_post,
    plain_name,
    whole_number,
)
from fizzwright.web.pages import bench_of, page, views_of
from fizzwright.web.rounding import Fold, fold_of, rounded_in
from fizzwright.web.shelf import Conflict, fingerprint
from fizzwright.web.views import ReviewView, rounding_text

SIZES = ("size_count", "size_total", "size_use", "size_left", "size_mould")
MESSAGES = {"new": "the recipe is started. Change it and press Save.", "brought": "brought in."}


async def show(request: Request) -> Response:
    """The recipe as it stands in its file; as plain text when it cannot be read as a form."""
    bench, stem = bench_of(request), request.path_params["stem"]
    try:
        text = bench.shelf.read(stem)
        form = of_document(text, fingerprint(text))
    except RecipeRefused as refused:
        return document_page(request, stem, refused.problems)
    except NoForm:
        return document_page(request, stem, ())
    form = replace(form, leave_on="leave_on" in request.query_params)
    looked = await run_in_threadpool(bench.look, form, stem)
    done = request.query_params.get("done", "")
    return recipe_page(request, stem, looked, message=MESSAGES.get(done, ""), saved=done == "saved", status=200)


async def act(request: Request) -> Response:
    """A button was pressed: work it out, add, take out, put back, resize or save."""
    bench, stem = bench_of(request), request.path_params["stem"]
    data = await request.form()
    form, do = of_post(data), str(data.get("do", "look"))
    verb, _, which = do.partition("-")
    focus = ""
    if verb == "save":
        return await run_in_threadpool(save, request, bench, stem, form, "saved-end" if which == "end" else "saved")
    if verb == "size":
        typed = {name: str(data.get(name, "")).strip() for name in SIZES}
        return await run_in_threadpool(size, request, bench, stem, form, which, typed)
    if verb == "round":
        return await run_in_threadpool(round_off, request, bench, stem, form, fold_of(bench, data), which == "put")
    if verb == "change":
        asked = changing.fold_of(bench, stem, data)
        return await run_in_threadpool(change, request, bench, stem, form, asked, which)
    if verb == "add":
        form = form.with_new_line()
        focus = f"line-{len(form.lines) - 1}-use"
    elif verb in ("out", "back") and (index := whole_number(which)) is not None:
        form = form.with_out(index, verb == "out")
        focus = _focus_after(form, index)
    looked = await run_in_threadpool(bench.look, form, stem)
    return recipe_page(request, stem, looked, focus=focus, fold=fold_of(bench, data))


async def look(request: Request) -> Response:
    """The figures for what is typed at this moment; only they and the words beside the boxes go back."""
    bench, stem = bench_of(request), request.path_params["stem"]
    form = of_post(await request.form())
    looked = await run_in_threadpool(bench.glimpse, form, stem)
    return await run_in_threadpool(_fragment, request, bench, stem, looked)


def _focus_after(form: RecipeForm, index: int) -> str:
    """Where the cursor goes when a line was taken out or put back: to the undo, or into the line."""
    if index >= len(form.lines):
        return ""
    line = form.lines[index]
    return f"line-{index}-use" if not line.out else "add" if line.is_blank else f"back-{index}"


def save(request: Request, bench: Bench, stem: str, form: RecipeForm, place: str = "saved") -> Response:
    """Write the document, unless it cannot be read or was changed elsewhere; then back to that place of the form."""
    looked = bench.look(form, stem)
    if looked.faults:
        return recipe_page(request, stem, looked)
    try:
        bench.shelf.save(stem, looked.text, form.seen)
    except Conflict as conflict:
        return conflict_page(request, stem, looked.text, conflict.theirs)
    leave_on = "&leave_on=1" if form.leave_on else ""
    return RedirectResponse(request.url_for("recipe", stem=stem).path + f"?done=saved{leave_on}#{place}", 303)


def size(request: Request, bench: Bench, stem: str, form: RecipeForm, how: str, typed: dict[str, str]) -> Response:
    """Resize what is typed; the result stands in the form, unsaved."""
    looked = bench.look(form, stem)
    if looked.faults or looked.recipe is None:
        return recipe_page(request, stem, looked, typed=typed)
    try:
        sized = _resized(bench, looked, how, typed)
    except Refusal as refused:
        box = {"count": "size_count", "total": "size_total", "bag": "size_left", "mould": "size_mould"}.get(how, "")
        return recipe_page(request, stem, replace(looked, faults=Faults({box: [str(refused)]})), typed=typed)
    resized = bench.look(_with_amounts(form, looked, sized.text), stem)
    return recipe_page(request, stem, resized, sized=sized, typed=typed, focus="sized")


def round_off(request: Request, bench: Bench, stem: str, form: RecipeForm, fold: Fold, is_put: bool) -> Response:
    """Round what is typed to the spoons ticked; put in the form, unsaved, only when asked to."""
    looked = bench.look(form, stem)
    fold, looked = rounded_in(fold, looked, bench)
    rounded = fold.rounded
    if rounded is None:
        return recipe_page(request, stem, looked, fold=fold)
    if is_put:
        fold = replace(fold, is_put=True)
        looked = bench.look(_with_amounts(form, looked, rounded.text), stem)
    return recipe_page(request, stem, looked, fold=fold, focus="rounded")


def change(
    request: Request, bench: Bench, stem: str, form: RecipeForm, fold: changing.Fold, which: str
) -> HTMLResponse:
    """Change one thing of what is typed; the result stands in the form, unsaved."""
    fold, looked = changing.changed_in(fold, bench.look(form, stem), bench, which)
    if fold.changed is None:
        return recipe_page(request, stem, looked, changed=fold)
    if fold.changed.is_changed:
        looked = bench.look(changing.put(form, looked, fold.changed.text), stem)
    return recipe_page(request, stem, looked, changed=fold, focus="changed")


def _resized(bench: Bench, looked: Looked, how: str, typed: dict[str, str]) -> Sized:
    assert looked.recipe is not None
    ask: dict[str, Any] = {"whole": how == "whole"}
    if how == "count":
        if not typed["size_count"].isdecimal():
            raise Refusal(f'Read: "{typed["size_count"]}". Write a whole number of pieces, such as 12.')
        ask["count"] = int(typed["size_count"][:9])
    elif how == "total":
        ask["total"] = typed["size_total"]
    elif how == "mould":
        ask["mould"] = typed["size_mould"]
    elif how == "bag":
        ask["bag"] = (f"{typed['size_use']}={typed['size_left']}",)
    return resize(looked.recipe, bench.catalogue, bench.workshop, **ask)


def _with_amounts(form: RecipeForm, looked: Looked, text: str) -> RecipeForm:
    """The form holding the changed document, each line still tied to the line of the file it came from."""
    fresh = of_document(text, form.seen)
    lines = [
        replace(line, was=form.lines[looked.order[place]].was if place < len(looked.order) else None)
        for place, line in enumerate(fresh.lines)
    ]
    gone = [line for line in form.lines if line.out]
    return replace(form, values=fresh.values, lines=(*lines, *gone))


async def curve(request: Request) -> Response:
    """The picture of one curve for what is typed: asked for when it comes into sight, so that figures need not wait."""
    bench, stem = bench_of(request), request.path_params["stem"]
    form = of_post(await request.form())
    looked = await run_in_threadpool(bench.glimpse, form, stem)
    wanted = (request.path_params["section"], request.path_params["curve"])
    for section in looked.review.sections if looked.review else ():
        for found in section.curves:
            if (section.id, found.id) == wanted:
                svg = await run_in_threadpool(charts.drawn, charts.curve(found))
                return HTMLResponse(f'<div class="drawing">{svg}</div>')
    return HTMLResponse('<div class="drawing"></div>')


def _shown(bench: Bench, looked: Looked, *, draw: bool) -> dict[str, Any]:
    """What the answer and the figures are given, on the full page and in the swap alike; curves only when asked to draw."""
    view: ReviewView | None = None
    sections = looked.review.sections if looked.review else ()
    if looked.review and looked.recipe:
        view = views_of(bench).review(looked.review, looked.recipe.kind)
    costs = charts.cost(looked.review) if looked.review else None
    weights = dict(zip(looked.order, (line.grams for line in view.lines), strict=True)) if view and looked.order else {}
    return {
        "view": view,
        "curves": _curves(looked) if draw else {},
        "drawings": {s.id: drawings.of_piece(s.cutaway) for s in sections if s.cutaway is not None},
        "stale": looked.stale,
        "air": bench.air(),
        "faults": looked.faults,
        "weights": weights,
        "good": looked.form.good if looked.faults else looked.text,
        "note": _note(looked, view),
        "unsaved": looked.is_unsaved,
        "held": looked.held,
        "line_names": {i: bench.name_of(line.use) for i, line in enumerate(looked.form.lines) if not line.out},
        "chart": charts.drawn(charts.composition(looked.review)) if looked.review else "",
        "chart_title": charts.composition_title(looked.review) if looked.review else "",
        "cost_chart": charts.drawn(costs) if costs else "",
        "cost_title": charts.cost_title(looked.review) if looked.review else "",
    }


def _curves(looked: Looked) -> dict[tuple[str, str], str]:
    sections = looked.review.sections if looked.review else ()
    return {(s.id, c.id): charts.drawn(charts.curve(c)) for s in sections for c in s.curves}


def _note(looked: Looked, view: ReviewView | None) -> str:
    if looked.faults:
        return "Something cannot be read; the words beside the box say what."
    return f"Worked out. {view.word}: {view.sentence}" if view else ""


def _fragment(request: Request, bench: Bench, stem: str, looked: Looked) -> HTMLResponse:
    boxes = [*PLACES, "water", *TAP, "sold_in"]
    for index, line in enumerate(looked.form.lines):
        boxes += [] if line.out else [f"line-{index}-{box}" for box in LINE_KEYS]
    return page(
        request, "parts/look.html", boxes=boxes, form=looked.form, stem=stem, **_shown(bench, looked, draw=False)
    )


def recipe_page(
    request: Request,
    stem: str,
    looked: Looked,
    *,
    status: int | None = None,
    message: str = "",
    saved: bool = False,
    focus: str = "",
    sized: Sized | None = None,
    typed: dict[str, str] | None = None,
    fold: Fold | None = None,
    changed: changing.Fold | None = None,
) -> HTMLResponse:
    """The whole page."""
    bench, form = bench_of(request), looked.form
    typed_uses = [line.use for line in form.lines if line.use and not line.out]
    uses = dict.fromkeys(bench.ids.get(plain_name(use), use) for use in typed_uses)
    given = _shown(bench, looked, draw=True)
    return page(
        request,
        "recipe.html",
        "recipes",
        status or (422 if looked.faults else 200),
        stem=stem,
        form=form,
        message=message,
        focus=focus,
        saved=saved,
        taken_name=bench.name_of,
        sized=_sized_view(sized),
        fold=fold or fold_of(bench),
        change=changed or changing.fold_of(bench, stem),
        typed={name: (typed or {}).get(name, "") for name in SIZES},
        usables=bench.names,
        kinds=words.KIND_OPTIONS,
        audiences=words.AUDIENCE_OPTIONS,
        systems=words.SYSTEM_OPTIONS,
        markets=words.MARKET_OPTIONS,
        moulds=words.mould_options(bench.catalogue),
        waters=words.WATER_OPTIONS,
        doors=words.DOOR_OPTIONS,
        fans=words.FAN_OPTIONS,
        taps=words.TAP_BOXES,
        own_lines=[("", "choose a line"), *((use, bench.name_of(use) or use) for use in uses)],
        **given,
    )


def _sized_view(sized: Sized | None) -> dict[str, Any] | None:
    if sized is None:
        return None
    changes = [(c.name, c.before or "new", c.after, rounding_text(c.rounding_pct)) for c in sized.changes]
    return {"summary": sized.summary, "changes": changes, "notes": sized.notes}
