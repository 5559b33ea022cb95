"""The choices of the recipe's form, in a maker's words."""

from __future__ import annotations

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.form import WATERS
from fizzwright.recipe.model import AUDIENCES, KINDS, MARKETS, SYSTEMS
from fizzwright.web.forms import OWN_WATER, RecipeForm

Options = list[tuple[str, str]]

_KINDS = {
    "fizzer": "A fizzer",
    "foaming": "A foaming fizzer",
    "layered": "Layers",
    "cored": "A shell with a core",
    "powder": "Powder for a jar",
}
_AUDIENCES = {
    "adult": "Adults",
    "child_6_plus": "Children from 6",
    "child_2_plus": "Children from 2",
    "pregnancy": "In pregnancy",
}
_SYSTEMS = {"us": "US", "metric": "Metric", "uk": "UK", "au": "Australian"}
_MARKETS = {
    "us": "United States",
    "eu": "European Union",
    "uk": "United Kingdom",
    "ca": "Canada",
    "au": "Australia",
}


def _options(ids: tuple[str, ...], names: dict[str, str]) -> Options:
    return [(i, names.get(i, i.replace("_", " "))) for i in ids]


KIND_OPTIONS = _options(KINDS, _KINDS)
AUDIENCE_OPTIONS = _options(AUDIENCES, _AUDIENCES)
SYSTEM_OPTIONS = _options(SYSTEMS, _SYSTEMS)
MARKET_OPTIONS = _options(MARKETS, _MARKETS)


def kind_word(kind: str) -> str:
    """A kind as a maker says it."""
    return _KINDS.get(kind, kind)


def mould_options(catalogue: Catalogue) -> Options:
    """Every mould by name, and none."""
    moulds = sorted(catalogue.moulds.values(), key=lambda mould: mould.name)
    return [("", "None: a powder"), *((mould.id, mould.name) for mould in moulds)]


def water_options(form: RecipeForm) -> Options:
    """The classes of tap water, the catalogue's own choice, and the recipe's own report when it has one."""
    own = [(OWN_WATER, "As in the recipe's own report")] if form.own_water else []
    return [("", "Not said: the usual"), *own, *((w, w.replace("_", " ").capitalize()) for w in WATERS)]
