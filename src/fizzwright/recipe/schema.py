"""The published JSON Schema of a recipe document (Draft 2020-12), made from the form the reader uses."""

from __future__ import annotations

import json
from typing import Any

from fizzwright.recipe import form
from fizzwright.recipe.amounts import ALLOWED
from fizzwright.recipe.model import AUDIENCES, DOORS, FANS, KINDS, MARKETS, SYSTEMS

ID = {"type": "string", "pattern": "^[a-z0-9_]+$"}
"""An id of the catalogue or the workshop."""


def schema() -> dict[str, Any]:
    """The schema, for a document with its TOML dates turned into text.

    It describes form only: whether an id is in the catalogue, whether amounts can hold together and whether a line
    stands twice, the reader alone can tell.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:fizzwright:recipe:1",
        "title": "Fizzwright recipe",
        "description": "One recipe for a bath fizzer, in TOML: this much of that, by cup, spoon, gram or drop.",
        **table(
            form.RECIPE,
            "",
            {
                "name": words("What the recipe is called."),
                "kind": {"enum": list(KINDS), "description": "What is being made."},
                **readers(),
                "makes": table(form.RECIPE, "makes", {"mould": mould(), "count": number(form.RECIPE, "makes.count")}),
                "tub": table(
                    form.RECIPE,
                    "tub",
                    {
                        "water": water(),
                        **numbers(form.RECIPE, "tub"),
                        "door": {"enum": list(DOORS), "default": "shut", "description": "The bathroom door."},
                        "fan": {"enum": list(FANS), "default": "off", "description": "The bathroom's extractor fan."},
                    },
                ),
                "line": {
                    "type": "array",
                    "minItems": 1,
                    "maxItems": form.MOST_LINES,
                    "items": table(
                        form.RECIPE,
                        "line",
                        {
                            "use": {**ID, "description": "The id of a material, an oil or an aroma substance."},
                            "amount": {"type": "string", "minLength": 1, "description": f"How much: {ALLOWED}."},
                            "part": {"enum": ["whole", *(part for parts in form.PARTS.values() for part in parts)]},
                            "in": {**ID, "description": "The use of the line it is diluted in first."},
                            "lot": words("The lot whose own analysis counts."),
                        },
                    ),
                },
            },
        ),
        "allOf": [
            *(
                {
                    "if": {"properties": {"kind": {"const": kind}}, "required": ["kind"]},
                    "then": {
                        "properties": {
                            "line": {"items": {"properties": {"part": {"enum": ["whole", *form.PARTS.get(kind, ())]}}}}
                        }
                    },
                }
                for kind in KINDS
            ),
            {
                "if": {"properties": {"kind": {"const": "powder"}}, "required": ["kind"]},
                "then": {"properties": {"makes": {"properties": {"mould": False}}}},
            },
        ],
    }


def schema_text() -> str:
    """The schema as it is published in docs/recipe.schema.json."""
    return json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"


def table(of: form.Form, level: str, properties: dict[str, Any]) -> dict[str, Any]:
    """A table with exactly the keys of the form, in canonical order."""
    return {
        "type": "object",
        "properties": {key: properties[key] for key in of.keys[level]},
        "required": list(of.needed.get(level, ())),
        "additionalProperties": False,
    }


def numbers(of: form.Form, level: str) -> dict[str, Any]:
    """Every plain number of one table of the form."""
    return {key: number(of, f"{level}.{key}") for key in of.keys[level] if f"{level}.{key}" in of.numbers}


def number(of: form.Form, name: str) -> dict[str, Any]:
    """A number inside its bounds."""
    bounds = of.numbers[name]
    kind = "integer" if bounds.whole else "number"
    low, high = (int(bounds.low), int(bounds.high)) if bounds.whole else (bounds.low, bounds.high)
    return {"type": kind, "minimum": low, "maximum": high, "description": f"{bounds.allowed}.".capitalize()}


def words(description: str) -> dict[str, Any]:
    """Text that is not empty."""
    return {"type": "string", "pattern": r"\S", "description": description}


def mould() -> dict[str, Any]:
    """A mould of the catalogue or a mesh."""
    return {
        "anyOf": [ID, {"type": "string", "pattern": r"^mesh:[^\\:]+\.[sS][tT][lL]$"}],
        "description": 'A mould of the catalogue, or "mesh:FILE.stl" for a shape of your own beside the recipe.',
    }


def water() -> dict[str, Any]:
    """A class of tap water, or a report."""
    return {
        "anyOf": [{"enum": list(form.WATERS)}, table(form.RECIPE, "tub.water", numbers(form.RECIPE, "tub.water"))],
        "description": "A class of tap water, or the figures of your own water report.",
    }


def readers() -> dict[str, Any]:
    """The keys that say for whom, where and when: the same in every document."""
    return {
        "audience": {"enum": list(AUDIENCES), "default": "adult", "description": "Who bathes in it."},
        "sold_in": {
            "type": "array",
            "items": {"enum": list(MARKETS)},
            "description": "Where it is sold; empty or absent for home use.",
        },
        "measures": {"enum": list(SYSTEMS), "default": "us", "description": "Which cup and spoon are meant."},
        "made_on": {
            "type": "string",
            "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$",
            "description": "The day whose rules are read; a TOML date or text, year first.",
        },
    }
