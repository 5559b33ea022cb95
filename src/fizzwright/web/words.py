"""The choices of the recipe's form, in a maker's words."""

from __future__ import annotations

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.form import WATERS
from fizzwright.recipe.model import AUDIENCES, KINDS, MARKETS, SYSTEMS
from fizzwright.web.forms import OWN_WATER

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
WATER_OPTIONS: Options = [
    ("", "Not said: the usual"),
    *_options(WATERS, {w: w.replace("_", " ").capitalize() for w in WATERS}),
    (OWN_WATER, "My own water report"),
]
DOOR_OPTIONS: Options = [("", "Not said: shut"), ("shut", "Shut"), ("ajar", "Ajar")]
FAN_OPTIONS: Options = [("", "Not said: off"), ("off", "Off"), ("on", "On")]
TAP_BOXES = (
    ("tap_alkalinity_mmol_l", "Alkalinity", "such as 120 mg/l CaCO3, or 10 °dH"),
    ("tap_calcium_mmol_l", "Calcium", "such as 80 mg/l, or 14 °dH"),
    ("tap_magnesium_mmol_l", "Magnesium", "such as 8 mg/l"),
    ("tap_ph", "pH", "such as 7.6"),
    ("tap_sodium_mmol_l", "Sodium", "such as 20 mg/l"),
    ("tap_potassium_mmol_l", "Potassium", "such as 2 mg/l"),
    ("tap_chloride_mmol_l", "Chloride", "such as 35 mg/l"),
    ("tap_sulfate_mmol_l", "Sulfate", "such as 50 mg/l"),
)
"""Box, label and example of each line of a water report; a bare number is mmol a litre."""


def kind_word(kind: str) -> str:
    """A kind as a maker says it."""
    return _KINDS.get(kind, kind)


def mould_options(catalogue: Catalogue) -> Options:
    """Every mould by name, and none."""
    moulds = sorted(catalogue.moulds.values(), key=lambda mould: mould.name)
    return [("", "None: a powder"), *((mould.id, mould.name) for mould in moulds)]
