"""Rendering: one template environment, and what every page is given."""

from __future__ import annotations

import hashlib
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from starlette.requests import Request
from starlette.responses import HTMLResponse

from fizzwright import __version__
from fizzwright.web.bench import Bench
from fizzwright.web.views import Views


def environment() -> Environment:
    """The templates, with escaping always on."""
    made = Environment(
        loader=PackageLoader("fizzwright.web"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["mark"] = lambda text: hashlib.sha256(str(text).encode()).hexdigest()[:10]
    return made


def bench_of(request: Request) -> Bench:
    """The workshop this workbench is open on."""
    bench: Bench = request.app.state.bench
    return bench


def views_of(bench: Bench) -> Views:
    """The views with this catalogue's citations and this workshop's scale."""
    return Views(bench.catalogue.sources, bench.workshop.small_scale_step_g or bench.workshop.scale_step_g)


def page(
    request: Request,
    template: str,
    here: str = "",
    status: int = 200,
    headers: dict[str, str] | None = None,
    **given: Any,
) -> HTMLResponse:
    """A page from its template; `given` stays readable on the response as `context`, for tests."""
    bench = bench_of(request)
    context = {
        "workshop_name": bench.workshop.name,
        "catalogue_version": bench.catalogue.version,
        "version": __version__,
        "here": here,
        **given,
    }
    response = HTMLResponse(request.app.state.templates.get_template(template).render(context), status, headers)
    if "http.response.debug" in request.scope.get("extensions", {}):
        request.scope["extensions"]["http.response.debug"]["info"] = {"template": template, "context": context}
    return response
