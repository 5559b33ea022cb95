"""The workbench: routes, errors in words, and the door."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from fizzwright.catalogue import Catalogue, open_workshop
from fizzwright.refusal import Refusal
from fizzwright.web import analysis, cards, documents, oils, recipe_page, reference, today, weather, wish
from fizzwright.web.bench import Bench, utc_now
from fizzwright.web.guard import Guard, TooLarge
from fizzwright.web.pages import environment, page
from fizzwright.web.shelf import NoRecipe, Shelf

STATIC = Path(__file__).parent / "static"
_log = logging.getLogger(__name__)


def create_app(
    workshop_folder: Path, catalogue: Catalogue | None = None, clock: Callable[[], date] | None = None
) -> Starlette:
    """The workbench on one workshop folder. Serve it on loopback only. CatalogueFaults when the folder has faults.

    clock: the day rules are read as of, when it is not today; readings are then kept as of its noon in UTC.
    """
    overlaid, workshop = open_workshop(workshop_folder)
    now = utc_now if clock is None else lambda: datetime.combine(clock(), time(12), UTC)
    app = Starlette(routes=_routes(), middleware=[Middleware(Guard)], exception_handlers=_errors())
    app.state.bench = Bench(
        catalogue or overlaid, workshop, Shelf(Path(workshop_folder) / "recipes"), clock or date.today, now
    )
    app.state.wishes = wish.Wishes()
    app.state.templates = environment()
    return app


def _routes() -> list[Any]:
    one = "/recipes/{stem}"
    return [
        Route("/", documents.listed),
        Route("/recipes", documents.start, methods=["POST"]),
        Route("/recipes/upload", documents.bring, methods=["POST"]),
        Route(one, recipe_page.show, name="recipe"),
        Route(one, recipe_page.act, methods=["POST"]),
        Route(f"{one}/look", recipe_page.look, methods=["POST"]),
        Route(f"{one}/curve/{{section}}/{{curve}}", recipe_page.curve, methods=["POST"]),
        Route(f"{one}/document", documents.document),
        Route(f"{one}/document", documents.write, methods=["POST"]),
        Route(f"{one}/document.toml", documents.download),
        Route(f"{one}/print", documents.to_print),
        Route(f"{one}/bowl", documents.at_the_bowl),
        Route(f"{one}/card.pdf", cards.card),
        Route("/wish", wish.show),
        Route("/wish", wish.ask, methods=["POST"]),
        Route("/wish/look", wish.look, methods=["POST"]),
        Route("/wish/{job}", wish.one),
        Route("/wish/{job}/live", wish.live),
        Route("/wish/{job}/stop", wish.stop, methods=["POST"]),
        Route("/wish/{job}/keep", wish.keep, methods=["POST"]),
        Route("/wish/{job}/weigh", wish.weigh, methods=["POST"]),
        Route("/wish/{job}/{along}/{place}", wish.choose),
        Route("/today", today.show),
        Route("/today", today.answer, methods=["POST"]),
        Route("/weather", weather.show),
        Route("/weather", weather.read, methods=["POST"]),
        Route("/weather/windows.ics", weather.calendar, methods=["POST"]),
        Route("/oils", oils.show),
        Route("/lots", analysis.lots),
        Route("/lots", analysis.bring, methods=["POST"]),
        Route("/lots/confirm", analysis.confirm, methods=["POST"]),
        Route("/catalogue", reference.find),
        Route("/catalogue/sources/{source_id}", reference.source),
        Route("/catalogue/{kind}/{entry_id}", reference.entry),
        Route("/help", reference.help_page),
        Route("/patterns", reference.patterns),
        Mount("/static", StaticFiles(directory=STATIC), name="static"),
    ]


def _errors() -> dict[Any, Callable[[Request, Any], Response]]:
    return {NoRecipe: _no_recipe, Refusal: _refused, TooLarge: _too_large, HTTPException: _http, Exception: _failed}


def _message(request: Request, status: int, title: str, text: str) -> Response:
    return page(request, "message.html", status=status, title=title, text=text)


def _no_recipe(request: Request, error: Any) -> Response:
    return _message(request, 404, "No such recipe", "There is no recipe of that name in this workshop's folder.")


def _refused(request: Request, error: Any) -> Response:
    return _message(request, 422, "That could not be done", str(error))


def _too_large(request: Request, error: Any) -> Response:
    return _message(
        request,
        413,
        "Too large",
        "That is too large: a recipe is at most 1 MB, a laboratory's table or a weather log 2.5 MB. Nothing was changed.",
    )


def _http(request: Request, error: Any) -> Response:
    if error.status_code == 404:
        detail = error.detail if error.detail != "Not Found" else "There is no page at this address."
        return _message(request, 404, "Not here", detail)
    return _message(request, error.status_code, "That could not be done", f"{error.detail}. Nothing was changed.")


def _failed(request: Request, error: Any) -> Response:
    """A fault of ours: Starlette logs it with its trace; the maker is told what is certain."""
    _log.error("a page failed", exc_info=error)
    return _message(
        request,
        500,
        "The workbench made a mistake",
        "This is a fault of the program, not of yours. Nothing was saved by this step, and your files are as they were. "
        "Go back to keep what you typed; the terminal the workbench runs in shows what happened.",
    )
