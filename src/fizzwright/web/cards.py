"""The recipe card to print, as a PDF."""

from __future__ import annotations

from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from fizzwright.papers.card import card_pdf
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.recipe.weigh import weigh
from fizzwright.web.bench import Bench
from fizzwright.web.documents import document_page
from fizzwright.web.pages import bench_of

PAPERS = ("a5", "a4", "us-letter")


async def card(request: Request) -> Response:
    """The card of a saved recipe."""
    bench, stem = bench_of(request), request.path_params["stem"]
    paper = request.query_params.get("paper", "a5")
    if paper not in PAPERS:
        raise HTTPException(404, f"There is no card on that paper. Papers: {', '.join(PAPERS)}.")
    text = bench.shelf.read(stem)
    try:
        pdf = await run_in_threadpool(_pdf, bench, stem, text, paper)
    except RecipeRefused as refused:
        return document_page(request, stem, refused.problems)
    disposition = f"inline; filename*=UTF-8''{quote(stem)}-card.pdf"
    return Response(pdf, media_type="application/pdf", headers={"content-disposition": disposition})


def _pdf(bench: Bench, stem: str, text: str, paper: str) -> bytes:
    recipe, report = bench.review(text, stem)
    mix = weigh(recipe, bench.catalogue, as_of=report.as_of, lot_analyses=bench.workshop.lot_analyses)
    return card_pdf(report, mix, bench.catalogue, paper=paper, workshop=bench.workshop)
