"""The JSON Schema, judged by the jsonschema library: it takes what the reader takes and knows the same words."""

import json
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import Catalogue, load
from fizzwright.recipe import form
from fizzwright.recipe.document import read_text
from fizzwright.recipe.model import AUDIENCES, KINDS, MARKETS, SYSTEMS
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.recipe.schema import schema, schema_text

from .documents import ORCHARD, documents
from .test_document import HEAD, LINE

CATALOGUE = load()
"""For property tests: a fixture would be spelled out in full with every failure."""

VALIDATOR = jsonschema.Draft202012Validator(schema())
PUBLISHED = Path(__file__).parents[2] / "docs" / "recipe.schema.json"


def as_json(text: str) -> Any:
    """TOML as JSON, dates as text."""
    return json.loads(json.dumps(tomllib.loads(text), default=lambda v: v.isoformat() if isinstance(v, date) else v))


def reads(text: str, catalogue: Catalogue) -> bool:
    try:
        read_text(text, catalogue)
    except RecipeRefused:
        return False
    return True


def test_the_schema_is_itself_good() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())


def test_the_published_schema_is_the_one_in_force() -> None:
    assert PUBLISHED.read_text(encoding="utf-8") == schema_text(), (
        "write it again: fizzwright schema > docs/recipe.schema.json"
    )


def test_the_contract_example_and_every_demo_recipe_hold_to_it(quillmoor: Path) -> None:
    VALIDATOR.validate(as_json(ORCHARD))
    recipes = sorted(quillmoor.rglob("recipes/*.toml"))
    for file in recipes:
        VALIDATOR.validate(as_json(file.read_text(encoding="utf-8")))


@given(documents())
def test_every_good_document_holds_to_it(text: str) -> None:
    VALIDATOR.validate(as_json(text))


WORDS = (*KINDS, *AUDIENCES, *MARKETS, *SYSTEMS, *form.WATERS, "shell", "core", "layer_1", "layer_9", "layer_10")
KEYS = sorted({key for keys in form.KEYS.values() for key in keys} | {"colour", "liters"})


@given(st.sampled_from(("kind", "audience", "measures", "sold_in", "water", "part")), st.sampled_from(WORDS))
def test_reader_and_schema_take_the_same_words(key: str, word: str) -> None:
    texts = {
        "kind": f'name = "Drift"\nkind = "{word}"\n' + LINE,
        "sold_in": f'sold_in = ["{word}"]\n' + HEAD + LINE,
        "water": HEAD + f'[tub]\nwater = "{word}"\n' + LINE,
    }
    top = f'{key} = "{word}"\n' + HEAD + LINE
    candidates = [texts.get(key, top)]
    if key == "part":
        candidates = [f'name = "L"\nkind = "{kind}"\n' + LINE + f'part = "{word}"\n' for kind in KINDS]
    for text in candidates:
        assert VALIDATOR.is_valid(as_json(text)) == reads(text, CATALOGUE), text


@given(st.sampled_from(("", "makes", "tub", "tub.water", "line")), st.sampled_from(KEYS))
def test_reader_and_schema_know_the_same_keys(level: str, key: str) -> None:
    """A key in the wrong place is refused by both; in its own place both go on to look at its value."""
    if key in form.KEYS[level]:
        return
    heads = {"": "", "makes": "[makes]\n", "tub": "[tub]\n", "tub.water": "[tub.water]\nalkalinity_mmol_l = 1\n"}
    text = f"{key} = 1\n" + HEAD + LINE if not level else HEAD + heads.get(level, "") + f"{key} = 1\n" + LINE
    if level == "line":
        text = HEAD + LINE + f"{key} = 1\n"
    assert not reads(text, CATALOGUE)
    assert not VALIDATOR.is_valid(as_json(text))


@pytest.mark.parametrize("name", form.NUMBERS)
def test_reader_and_schema_agree_how_far_numbers_go(catalogue: Catalogue, name: str) -> None:
    level, _, key = name.rpartition(".")
    bounds = form.NUMBERS[name]
    other = "alkalinity_mmol_l = 1\n" if level == "tub.water" and key != "alkalinity_mmol_l" else ""
    just = 1 if bounds.whole else 0.01
    for value in (bounds.low, bounds.high, bounds.low - just, bounds.high + just):
        written = int(value) if bounds.whole else value
        text = HEAD + f"[{level}]\n{other}{key} = {written}\n" + LINE
        inside = bounds.low <= value <= bounds.high
        assert reads(text, catalogue) is inside, text
        assert VALIDATOR.is_valid(as_json(text)) is inside, text


@pytest.mark.parametrize("needed", [("name",), ("kind",), ("line",), ("line", 0, "use"), ("line", 0, "amount")])
def test_reader_and_schema_need_the_same_keys(needed: tuple[Any, ...]) -> None:
    data = as_json(ORCHARD)
    home = data
    for part in needed[:-1]:
        home = home[part]
    del home[needed[-1]]
    assert not VALIDATOR.is_valid(data)


def test_ids_of_the_catalogue_fit_the_schema(catalogue: Catalogue) -> None:
    line = schema()["properties"]["line"]["items"]["properties"]["use"]
    use = jsonschema.Draft202012Validator(line)
    for entries in (catalogue.materials, catalogue.oils, catalogue.constituents):
        assert all(use.is_valid(key) for key in entries)
    mould = jsonschema.Draft202012Validator(schema()["properties"]["makes"]["properties"]["mould"])
    assert all(mould.is_valid(key) for key in (*catalogue.moulds, "mesh:heart.stl", "mesh:shapes/heart.STL"))
    assert not mould.is_valid("mesh:heart.obj")
