"""The catalogue's pages: finding, one entry with its sources, one source; and help and patterns."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.describe import describe
from fizzwright.catalogue.model import Entry
from fizzwright.review import Figure, Notice
from fizzwright.review.figures import Input, Working
from fizzwright.web import charts, words
from fizzwright.web.forms import Faults
from fizzwright.web.pages import bench_of, page, views_of
from fizzwright.web.views import HOWS

LONGEST_QUERY = 100


def entry_of(catalogue: Catalogue, kind: str, entry_id: str) -> Entry | None:
    """An entry by kind and id; None when there is none."""
    by_id: dict[str, dict[str, Entry]] = {
        "material": dict(catalogue.materials),
        "oil": dict(catalogue.oils),
        "constituent": dict(catalogue.constituents),
        "mould": dict(catalogue.moulds),
        "measure": dict(catalogue.measures),
        "fact": dict(catalogue.facts),
        "colour": dict(catalogue.colours),
        "limit": {entry.id: entry for entry in catalogue.limits},
        "allergen": {entry.id: entry for entry in catalogue.allergens},
        "caution": {entry.id: entry for entry in catalogue.cautions},
    }
    return by_id.get(kind, {}).get(entry_id)


async def find(request: Request) -> Response:
    """Search the catalogue."""
    catalogue = bench_of(request).catalogue
    query = request.query_params.get("q", "").strip()[:LONGEST_QUERY]
    counts = [
        ("materials", len(catalogue.materials)),
        ("essential oils", len(catalogue.oils)),
        ("constituents", len(catalogue.constituents)),
        ("moulds", len(catalogue.moulds)),
        ("limits", len(catalogue.limits)),
        ("allergens", len(catalogue.allergens)),
        ("sources", len(catalogue.sources)),
    ]
    hits = catalogue.search(query) if query else []
    return page(request, "catalogue.html", "catalogue", query=query, hits=hits, counts=[(k, str(n)) for k, n in counts])


async def entry(request: Request) -> Response:
    """One entry with every value, how it is known, and its sources."""
    bench = bench_of(request)
    kind, entry_id = request.path_params["kind"], request.path_params["entry_id"]
    found = entry_of(bench.catalogue, kind, entry_id)
    if found is None:
        raise HTTPException(404, f"The catalogue holds no {kind} called {entry_id}.")
    return page(
        request,
        "entry.html",
        "catalogue",
        name=found.name,
        kind=kind,
        entry_id=entry_id,
        lots=[a.lot for a in bench.workshop.lot_analyses.values() if kind == "oil" and a.oil == entry_id],
        origin=found.origin,
        rows=describe(found, bench.catalogue),
        hows=HOWS,
        cited=views_of(bench).cited,
    )


async def source(request: Request) -> Response:
    """One citation."""
    found = bench_of(request).catalogue.sources.get(request.path_params["source_id"])
    if found is None:
        raise HTTPException(404, "The catalogue holds no source of that name.")
    return page(request, "source.html", "catalogue", source=found)


async def help_page(request: Request) -> Response:
    """What the words mean and how to work."""
    return page(request, "help.html", "help")


async def patterns(request: Request) -> Response:
    """Every part of the pages, with made-up contents."""
    views = views_of(bench_of(request))
    inputs = (Input("bicarbonate", 330.2, "g", "", "estimate"), Input("citric acid", 150.9, "g", "", "memory"))
    figures = (
        Figure(
            "total_g", 481.1, "g", "The whole mix weighs about 481 g.", Working("total = sum", inputs), 410.0, 560.0
        ),
        Figure("piece", 379, "GBP minor", "Each piece costs £3.79.", Working("piece = batch / pieces"), basis="exact"),
        Figure(
            "limit.x.y",
            0.0312,
            "% of the cured piece",
            "Invented substance: 0.031 % of the piece against 0.5 % allowed.",
            Working("level = sum over oils"),
            basis="published",
            high_allowed=0.5,
        ),
    )
    notices = (
        Notice(
            "stop",
            "Invented substance would be 2.1 % of the finished piece, 21 times what is allowed.",
            "An invented limit.",
        ),
        Notice(
            "mind", "The scent is diluted, not dispersed: it floats.", "Carrier oil thins it; water does not take it."
        ),
        Notice("good", "Acid and bicarbonate are in a usual balance.", "Compared with two to one by volume."),
    )
    bars = [
        {"name": "bicarbonate", "amount": 3, "label": "75 %"},
        {"name": "citric acid", "amount": 1, "label": "25 %"},
    ]
    return page(
        request,
        "patterns.html",
        figures=tuple(views.figure("patterns", f) for f in figures),
        notices=tuple(views.notice("patterns", n) for n in notices),
        faults=Faults({"pattern_litres": ['Read: "12,5x". Write a number of litres, such as 130.']}),
        kinds=words.KIND_OPTIONS,
        view={
            "verdict": "stop",
            "word": "Stop",
            "short": "one thing must change",
            "glance": [("A piece", "120\u202fg")],
        },
        stale=False,
        unsaved=True,
        chart=charts.drawn(charts.bars(bars, "shares")),
    )
