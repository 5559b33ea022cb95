"""The documents themselves: the list, new ones, brought in, as plain text, to download, to print."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from fizzwright.recipe.document import MOST_BYTES, read_text
from fizzwright.recipe.problems import Problem, RecipeRefused
from fizzwright.recipe.tidy import set_value, tidy
from fizzwright.refusal import Refusal
from fizzwright.web import words
from fizzwright.web.bench import Bench
from fizzwright.web.bowl import bowl_steps
from fizzwright.web.forms import Faults, whole_number
from fizzwright.web.pages import bench_of, page, views_of
from fizzwright.web.shelf import Conflict, NoRecipe, fingerprint, stem_of
from fizzwright.web.views import RecipeCard, counted

STARTERS = Path(__file__).parent / "starters"
"""Recipes to begin from: documents like any other, read anew each time."""
PLAIN = "plain_fizzer"
LONGEST_NAME = 100


async def listed(request: Request) -> Response:
    """All recipes."""
    return await run_in_threadpool(list_page, request)


def list_page(request: Request, faults: Faults | None = None, name: str = "", copy_of: str = "") -> HTMLResponse:
    """The list, with what was typed in its two small forms."""
    bench = bench_of(request)
    stems = bench.shelf.stems()
    cards = [card(bench, stem) for stem in stems]
    return page(
        request,
        "recipes.html",
        "recipes",
        422 if faults else 200,
        cards=cards,
        faults=faults or Faults(),
        typed={"new_name": name, "copy_of": copy_of},
        copies=[("", "A plain fizzer"), *((c.stem, f"A copy of {c.name}") for c in cards if c.verdict != "change")],
    )


def card(bench: Bench, stem: str) -> RecipeCard:
    """One recipe of the list; a file that cannot be read says why."""
    try:
        recipe, report = bench.review(bench.shelf.read(stem), stem)
    except NoRecipe:
        return RecipeCard(stem, stem, "", "change", "Gone", "The file was there a moment ago.", "", "", "")
    except RecipeRefused as refused:
        first, more = refused.problems[0], refused.problems[1:]
        said = f"{first}" + (f" And {counted(len(more), 'more thing')} to put right." if more else "")
        return RecipeCard(stem, stem, "", "change", "Needs a change", said, "", "", "")
    except Refusal as refused:
        return RecipeCard(stem, stem, "", "change", "Needs a change", str(refused), "", "", "")
    return views_of(bench).card(stem, recipe.kind, words.kind_word(recipe.kind), report)


def starter(stem: str) -> str:
    """The document of a starter."""
    return (STARTERS / f"{stem}.toml").read_text(encoding="utf-8")


async def start(request: Request) -> Response:
    """A new recipe, blank or a copy of another."""
    bench, data = bench_of(request), await request.form()
    name, copy_of = str(data.get("new_name", "")).strip(), str(data.get("copy_of", ""))
    if not name or len(name) > LONGEST_NAME:
        text = f"Give the recipe a name of 1 to {LONGEST_NAME} characters."
        return list_page(request, Faults({"new_name": [text]}), name, copy_of)
    try:
        text = set_value(bench.shelf.read(copy_of) if copy_of else starter(PLAIN), ("name",), name)
        read_text(text, bench.catalogue)
        bench.shelf.add(stem_of(name), text)
    except NoRecipe:
        return list_page(request, Faults({"copy_of": ["That recipe is no longer there. Choose another."]}), name, "")
    except Refusal as refused:
        return list_page(request, Faults({"new_name": [str(refused)]}), name, copy_of)
    return RedirectResponse(f"/recipes/{quote(stem_of(name))}?done=new", 303)


async def bring(request: Request) -> Response:
    """A document from elsewhere; refused ones are not kept, nothing is written over."""
    bench = bench_of(request)
    async with request.form() as data:
        upload = data.get("document")
        if not isinstance(upload, UploadFile) or not upload.filename:
            return list_page(request, Faults({"document": ["Choose a file first."]}))
        raw = await upload.read(MOST_BYTES + 1)
        stem = stem_of(upload.filename.rsplit("/", 1)[-1].rsplit("\\", 1)[-1].removesuffix(".toml"))
    try:
        text = _decoded(raw)
        read_text(text, bench.catalogue, bench.shelf.path(stem))
        bench.shelf.add(stem, text)
    except RecipeRefused as refused:
        return list_page(request, Faults({"document": [str(p) for p in refused.problems]}))
    except Refusal as refused:
        return list_page(request, Faults({"document": [str(refused)]}))
    return RedirectResponse(f"/recipes/{quote(stem)}?done=brought", 303)


def _decoded(raw: bytes) -> str:
    if len(raw) > MOST_BYTES:
        raise Refusal("The document is larger than 1 MB, too large for a recipe. Check that it is the right file.")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refusal("The file is not UTF-8 text. Open it in a text editor and save it as UTF-8.") from error


async def document(request: Request) -> Response:
    """The document as plain text."""
    bench, stem = bench_of(request), request.path_params["stem"]
    try:
        bench.shelf.read(stem)
    except RecipeRefused as refused:
        return document_page(request, stem, refused.problems)
    return document_page(request, stem, ())


def document_page(request: Request, stem: str, problems: Sequence[Problem]) -> HTMLResponse:
    """The text of a file, with what stops it from being shown as a form."""
    bench = bench_of(request)
    try:
        text = bench.shelf.read(stem)
        faults = _faults(problems)
    except RecipeRefused as refused:
        text, faults = "", _faults(refused.problems)
    return _document(request, stem, text, fingerprint(text), faults, 200)


async def write(request: Request) -> Response:
    """The plain text was sent back: save it, tidy it, or say what is wrong."""
    bench, stem, data = bench_of(request), request.path_params["stem"], await request.form()
    text, seen, do = str(data.get("text", "")).replace("\r\n", "\n"), str(data.get("seen", "")), str(data.get("do", ""))
    try:
        if do == "tidy":
            return _document(request, stem, tidy(text), seen, Faults(), 200, "tidied, not saved yet.")
        if do != "anyway":
            read_text(text, bench.catalogue, bench.shelf.path(stem))
        bench.shelf.save(stem, text, seen)
    except RecipeRefused as refused:
        return _document(request, stem, text, seen, _faults(refused.problems), 422)
    except Conflict as conflict:
        return conflict_page(request, stem, text, conflict.theirs)
    return RedirectResponse(request.url_for("recipe", stem=stem).path + "?done=saved", 303)


def _faults(problems: Sequence[Problem]) -> Faults:
    return Faults({"text": [str(p) for p in problems]}) if problems else Faults()


def _document(
    request: Request, stem: str, text: str, seen: str, faults: Faults, status: int, message: str = ""
) -> HTMLResponse:
    return page(
        request,
        "document.html",
        "recipes",
        status,
        stem=stem,
        text=text,
        seen=seen,
        faults=faults,
        message=message,
        may_save=status == 422,
    )


def conflict_page(request: Request, stem: str, mine: str, theirs: str) -> HTMLResponse:
    """Both versions, nothing lost; saving now is a choice made after seeing both."""
    return page(request, "conflict.html", "recipes", 409, stem=stem, mine=mine, theirs=theirs, seen=fingerprint(theirs))


async def download(request: Request) -> Response:
    """The file itself, byte for byte."""
    path = bench_of(request).shelf.path(request.path_params["stem"])
    if not path.is_file():
        raise NoRecipe(path.stem)
    name = quote(path.name)
    return Response(
        path.read_bytes(),
        media_type="application/toml",
        headers={"content-disposition": f"attachment; filename*=UTF-8''{name}"},
    )


async def to_print(request: Request) -> Response:
    """The sheet to print: what to weigh, steps, cautions."""
    bench, stem = bench_of(request), request.path_params["stem"]
    text = bench.shelf.read(stem)
    try:
        recipe, report = await run_in_threadpool(bench.review, text, stem)
    except RecipeRefused as refused:
        return document_page(request, stem, refused.problems)
    return page(
        request,
        "print.html",
        "recipes",
        stem=stem,
        name=recipe.name,
        kind=words.kind_word(recipe.kind),
        view=views_of(bench).review(report, recipe.kind),
        mark=fingerprint(text)[:8],
        today=bench.clock().isoformat(),
        air=bench.air().text,
    )


async def at_the_bowl(request: Request) -> Response:
    """One step a screen, for a phone propped beside the bowl."""
    bench, stem = bench_of(request), request.path_params["stem"]
    try:
        recipe, report = await run_in_threadpool(bench.review, bench.shelf.read(stem), stem)
    except RecipeRefused as refused:
        return document_page(request, stem, refused.problems)
    steps = bowl_steps(views_of(bench).review(report, recipe.kind))
    asked = whole_number(request.query_params.get("step", "1"))
    number = asked if asked and asked <= len(steps) else 1
    return page(
        request,
        "bowl.html",
        "recipes",
        stem=stem,
        name=recipe.name,
        step=steps[number - 1],
        number=number,
        many=len(steps),
        back=number - 1 if number > 1 else None,
        following=number + 1 if number < len(steps) else None,
    )
