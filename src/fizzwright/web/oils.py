"""Choose oils: a short form, the oils best first with their reasons, and the scent wheel with a recipe of the shelf."""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from fizzwright.design import wheel
from fizzwright.design.choosing import MOODS, VERDICT_LEVELS, VERDICTS, Chosen, choose, proposable
from fizzwright.design.choosing_words import DEFER, asked_words, first_word, piece_words, stock_words
from fizzwright.recipe.document import read_text
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review.figures import LEVEL_WORDS
from fizzwright.web.bench import Bench
from fizzwright.web.forms import Faults
from fizzwright.web.pages import bench_of, page, views_of
from fizzwright.web.shelf import NoRecipe
from fizzwright.web.wheel_drawing import Mark, wheel_svg
from fizzwright.web.words import AUDIENCE_OPTIONS, MARKET_OPTIONS
from fizzwright.wording import listed, sentence, shown

LONGEST = 80
"""Characters read of one answer."""
ON_WHEEL = 24
"""Oils of a list that are marked on the wheel: more would hide one another."""
WISHES = (
    [("", "Any")]
    + [(f"mood:{mood}", f"{sentence(mood)}: {listed(families)}") for mood, families in MOODS.items()]
    + [(f"family:{family}", f"Only {family}") for family in wheel.FAMILIES]
)


async def show(request: Request) -> Response:
    """The page of oils; what is asked stands in the address, so that it can be kept and sent."""
    return await run_in_threadpool(_page, request)


def _page(request: Request) -> Response:
    bench, asked = bench_of(request), request.query_params
    form = {
        "audience": asked.get("audience", "adult")[:LONGEST],
        "wish": asked.get("wish", "")[:LONGEST],
        "without": asked.get("without", "")[:LONGEST],
        "recipe": asked.get("recipe", "")[:LONGEST],
        "sold_in": [market[:LONGEST] for market in asked.getlist("sold_in")],
    }
    faults: dict[str, list[str]] = {}
    chosen = _chosen(bench, form, faults)
    blend = _blend(bench, form, faults)
    return page(
        request,
        "oils.html",
        "oils",
        422 if faults else 200,
        form=form,
        faults=Faults(faults),
        audiences=AUDIENCE_OPTIONS,
        markets=MARKET_OPTIONS,
        wishes=WISHES,
        recipes=[("", "None")] + [(stem, stem.replace("_", " ")) for stem in bench.shelf.stems()],
        asked=asked_words(chosen) if chosen else "",
        piece=piece_words(chosen) if chosen else "",
        groups=_groups(chosen, bench) if chosen else [],
        passed_over=chosen.passed_over if chosen else 0,
        on_wheel=min(ON_WHEEL, len(chosen.choices)) if chosen else 0,
        wheel=_oil_wheel(chosen, bench) if chosen and blend is None else "",
        blend=blend,
        defer=DEFER,
        cited=views_of(bench).cited,
    )


def _chosen(bench: Bench, form: dict[str, Any], faults: dict[str, list[str]]) -> Chosen | None:
    kind, _, word = form["wish"].partition(":")
    if form["wish"] and kind not in ("mood", "family"):
        faults["wish"] = [f"Read {form['wish']!r}. Choose a scent from the list."]
        return None
    asked: dict[str, Any] = {"audience": form["audience"], "sold_in": tuple(form["sold_in"])}
    names = tuple(name.strip() for name in form["without"].split(",") if name.strip())
    for box, more in (
        ("audience", {}),
        ("wish", {kind: word} if kind else {}),
        ("without", {"without_allergens": names}),
    ):
        try:
            choose(bench.catalogue, bench.workshop, as_of=bench.clock(), **asked, **more)
        except Refusal as refused:
            faults[box] = [str(refused)]
            return None
        asked |= more
    return choose(bench.catalogue, bench.workshop, as_of=bench.clock(), **asked)


def _groups(chosen: Chosen, bench: Bench) -> list[dict[str, Any]]:
    numbered = list(enumerate(chosen.choices, 1))
    cited = views_of(bench).cited
    return [
        {
            "verdict": sentence(verdict),
            "level": level,
            "word": LEVEL_WORDS[level],
            "oils": [
                {
                    "number": number if number <= ON_WHEEL else None,
                    "id": one.oil,
                    "name": one.name,
                    "most": f"{shown(one.worst_pct)}\u202f%" if one.worst_pct else "none",
                    "drops": f"{one.drops} drop{'' if one.drops == 1 else 's'} in 100\u202fg",
                    "smells": ", ".join(f"{family} {share:.0f}\u202f%" for family, share in one.families),
                    "note": one.note,
                    "first": first_word(one),
                    "stock": stock_words(one, chosen.currency),
                    "reasons": [(r.text, r.against, cited(r.sources)) for r in one.reasons],
                    "labels": listed(one.labels),
                }
                for number, one in numbered
                if one.verdict == verdict
            ],
        }
        for verdict, level in zip(VERDICTS, VERDICT_LEVELS, strict=True)
        if any(one.verdict == verdict for one in chosen.choices)
    ]


def _oil_wheel(chosen: Chosen, bench: Bench) -> str:
    marks = [
        Mark(number, one.name, wheel.places(bench.catalogue.oils[one.oil], bench.catalogue))
        for number, one in enumerate(chosen.choices[:ON_WHEEL], 1)
    ]
    words = f"The scent wheel with the first {len(marks)} oils of the list; each is told in the list with its families and note."
    return wheel_svg(wheel.ring(bench.catalogue), marks, {}, words)


def _blend(bench: Bench, form: dict[str, Any], faults: dict[str, list[str]]) -> dict[str, Any] | None:
    """A recipe of the shelf on the wheel, ready to show; None when none is asked for."""
    stem = form["recipe"]
    if not stem:
        return None
    catalogue = bench.catalogue
    try:
        recipe = read_text(bench.shelf.read(stem), catalogue, bench.shelf.path(stem))
        mix = weigh(recipe, catalogue, as_of=recipe.made_on or bench.clock())
    except NoRecipe:
        faults["recipe"] = [f"There is no recipe called {stem!r} in this workshop. Choose one from the list."]
        return None
    except RecipeRefused:
        faults["recipe"] = [
            "This recipe cannot be worked out as it stands. Open it under Recipes and put it right first."
        ]
        return None
    found = wheel.blend(mix, catalogue, proposable(catalogue, recipe.audience, recipe.sold_in, mix.as_of))
    if found is None:
        faults["recipe"] = ["Nothing in this recipe is scented, so there is nothing to show on the wheel."]
        return None
    ring = wheel.ring(catalogue)
    told = found.profile
    marks = [Mark(number, one.name, found.places[one.oil]) for number, one in enumerate(found.added, 1)]
    shares = ", ".join(
        f"{family} {100 * told.families[family]:.0f} %" for family in ring.families if family not in found.absent
    )
    words = f"{recipe.name} on the scent wheel: {shares}."
    return {
        "name": recipe.name,
        "title": f"{recipe.name} smells mostly {told.leading}",
        "svg": wheel_svg(ring, marks, told.families, words),
        "families": [(family, f"{100 * told.families[family]:.0f}\u202f%") for family in ring.families],
        "notes": ", ".join(f"{note} {100 * share:.0f}\u202f%" for note, share in told.notes.items()),
        "added": [
            (
                str(number),
                one.name,
                f"{one.share_pct:.0f}\u202f%",
                f"{one.smelt_pct:.0f}\u202f%",
                ", ".join(f"{family} ({part:.0f}\u202f%)" for family, part in one.families),
            )
            for number, one in enumerate(found.added, 1)
        ],
        "absent": [
            (family, listed((catalogue.oils[oil].name for oil in found.would_fill[family]), "or"))
            for family in found.absent
        ],
        "worded": f"{told.worded_pct:.0f}\u202f%",
    }
