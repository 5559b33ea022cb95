"""The published JSON Schema of a goal document (Draft 2020-12), made from the form the reader uses."""

from __future__ import annotations

import json
from typing import Any

from fizzwright.design.goal import MEASURED_IN, RANGES, SEEKS
from fizzwright.design.goal_form import GOAL, KINDS, MOST_NAMES, STOCK_G, WEIGHT, WINDOWS
from fizzwright.design.groups import ALSO, GROUPS
from fizzwright.recipe.form import Bounds
from fizzwright.recipe.model import DOORS, FANS
from fizzwright.recipe.schema import ID, mould, number, numbers, readers, table, water, words
from fizzwright.science.packing import HARDNESS_WORDS


def schema() -> dict[str, Any]:
    """The schema, for a document with its TOML dates turned into text.

    It describes form only: whether an id is in the catalogue, whether a window ends below where it begins and whether
    demands contradict each other, the reader alone can tell.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:fizzwright:goal:1",
        "title": "Fizzwright goal",
        "description": "What is wished of a recipe that is not written yet, in TOML.",
        **table(GOAL, "", _top()),
        "if": {"properties": {"kind": {"const": "powder"}}, "required": ["kind"]},
        "then": {
            "properties": {
                "makes": {"properties": {"mould": False}},
                "feel": {"properties": {"hardness_at_least": False}},
            }
        },
        "else": {"properties": {"makes": {"required": ["mould"]}}},
    }


def schema_text() -> str:
    """The schema as it is published in docs/goal.schema.json."""
    return json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"


def _top() -> dict[str, Any]:
    return {
        "name": words("What the recipe is to be called."),
        "kind": {"enum": list(KINDS), "default": "fizzer", "description": "What is to be made."},
        **readers(),
        "seek": {
            "enum": list(SEEKS),
            "default": "nearest",
            "description": "What is wanted most once every demand is met.",
        },
        "makes": table(GOAL, "makes", {"mould": mould(), "count": number(GOAL, "makes.count")}),
        "tub": table(
            GOAL,
            "tub",
            {"water": water(), **numbers(GOAL, "tub"), "door": {"enum": list(DOORS)}, "fan": {"enum": list(FANS)}},
        ),
        "fizz": table(GOAL, "fizz", _windows("fizz")),
        "water": table(GOAL, "water", _windows("water")),
        "feel": table(
            GOAL,
            "feel",
            {
                **_windows("feel"),
                "hardness_at_least": {"enum": list(HARDNESS_WORDS), "description": "How firm a piece is at least."},
            },
        ),
        "colour": table(GOAL, "colour", {"use": {**ID, "description": 'The id of a colour, or "none".'}}),
        "scent": table(
            GOAL,
            "scent",
            {
                "families": _weights("[a-z]+", WEIGHT, "Scent families, each with its weight among them."),
                "oils": _weights("[a-z0-9_]+", WEIGHT, "Essential oils by id, each with its share among them."),
                **_windows("scent"),
                "most_oils": number(GOAL, "scent.most_oils"),
            },
        ),
        "with": table(GOAL, "with", {"materials": _names(ID, "Ids that must be in.")}),
        "avoid": table(
            GOAL,
            "avoid",
            {
                "materials": _names(ID, "Ids that must not be in."),
                "allergens": _names(words("A label name."), "Fragrance allergens to keep below what must be declared."),
                "groups": _names({"type": "string"}, f"Kinds of material to leave out: {', '.join((*GROUPS, *ALSO))}."),
            },
        ),
        "stock": table(
            GOAL,
            "stock",
            {
                "only": {"type": "boolean", "default": False, "description": "Use only what is on hand."},
                "grams": _weights("[a-z0-9_]+", STOCK_G, "Grams on hand, by id."),
            },
        ),
        "cost": table(
            GOAL,
            "cost",
            {
                "piece_at_most": {
                    "type": "string",
                    "pattern": r"^\s*([0-9]+(\.[0-9]*)?|\.[0-9]+)\s*[A-Z]{3}\s*$",
                    "description": 'What the materials of one piece may cost, such as "0.60 GBP".',
                }
            },
        ),
        "amounts": table(
            GOAL,
            "amounts",
            {
                "in": {"enum": list(MEASURED_IN), "default": "grams", "description": "How the recipe is measured."},
                "spoons": _names(words('A measure, such as "1/2 tsp".'), "What lies in the drawer."),
            },
        ),
        "kitchens": table(GOAL, "kitchens", {"chance": number(GOAL, "kitchens.chance")}),
        "limits": table(
            GOAL,
            "limits",
            {
                "by": {
                    "enum": list(RANGES),
                    "default": "worst",
                    "description": "Composition the limits are kept by: each oil at its strongest, or as it usually is.",
                },
                "share_at_most": number(GOAL, "limits.share_at_most"),
            },
        ),
    }


def _windows(level: str) -> dict[str, Any]:
    return {key: _window(WINDOWS[f"{level}.{key}"]) for key in GOAL.keys[level] if f"{level}.{key}" in WINDOWS}


def _bounded(bounds: Bounds) -> dict[str, Any]:
    return {"type": "number", "minimum": bounds.low, "maximum": bounds.high}


def _window(bounds: Bounds) -> dict[str, Any]:
    end = _bounded(bounds)
    return {
        "anyOf": [
            {"type": "array", "items": end, "minItems": 2, "maxItems": 2},
            {
                "type": "object",
                "properties": {"at_least": end, "at_most": end},
                "minProperties": 1,
                "additionalProperties": False,
            },
        ],
        "description": f"From low to high, both allowed; {bounds.allowed}.",
    }


def _weights(name: str, bounds: Bounds, description: str) -> dict[str, Any]:
    return {
        "type": "object",
        "patternProperties": {f"^{name}$": _bounded(bounds)},
        "additionalProperties": False,
        "maxProperties": MOST_NAMES,
        "description": description,
    }


def _names(item: dict[str, Any], description: str) -> dict[str, Any]:
    return {"type": "array", "items": item, "maxItems": MOST_NAMES, "description": description}
