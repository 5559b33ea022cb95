"""Reading goals: exact, strict, everything wrong at once; the schema judged by the jsonschema library."""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import Catalogue, load, open_workshop
from fizzwright.demo import folder
from fizzwright.design.goal import OPEN, Window
from fizzwright.design.goal_checks import families
from fizzwright.design.goal_form import GOAL, WINDOWS
from fizzwright.design.reading import read_goal, read_goal_text
from fizzwright.design.schema import schema, schema_text
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.refusal import Refusal

CATALOGUE = load()
"""For property tests: a fixture would be spelled out in full with every failure."""
GOALS = sorted((folder() / "goals").glob("*.toml"))
ROOT = Path(__file__).parents[2]
VALIDATOR = jsonschema.Draft202012Validator(schema())

HEAD = 'name = "Slack Water"\n'
MAKES = '[makes]\nmould = "sphere_65"\ncount = 4\n'
WHOLE = """\
name = "Slack Water"
kind = "foaming"
audience = "pregnancy"
sold_in = ["uk", "eu"]
measures = "metric"
made_on = 2026-11-25
seek = "cheapest"
[makes]
mould = "sphere_65"
count = 6
[tub]
litres = 130
water = { alkalinity_mmol_l = 1.9 }
[fizz]
acid_to_base = [0.8, 1]
gas_l = { at_least = 9 }
[water]
ph_settled = { at_most = 7.6, at_least = 6.8 }
[feel]
filler_pct = [8, 20]
oil_pct = { at_most = 3 }
clay_pct = [0, 0]
foam_pct = { at_least = 2 }
hardness_at_least = "firm"
[colour]
use = "none"
[scent]
families = { citrus = 3, woody = 1 }
oils = { sweet_orange = 60, cedarwood_virginian = 20 }
total_pct = [0.3, 0.8]
most_oils = 3
[with]
materials = ["kaolin", "kaolin"]
[avoid]
materials = ["talc"]
allergens = ["limonene", "Linalool"]
groups = ["vegan"]
[stock]
only = true
grams = { citric_acid = 500, kaolin = 90.5 }
[cost]
piece_at_most = "0.60 GBP"
[amounts]
in = "spoons"
spoons = ["1 cup", "1/2 tsp"]
[kitchens]
chance = 0.99
[limits]
by = "typical"
share_at_most = 0.5
"""


def as_json(text: str) -> Any:
    """TOML as JSON, dates as text."""
    return json.loads(json.dumps(tomllib.loads(text), default=lambda v: v.isoformat() if isinstance(v, date) else v))


def problems(text: str) -> list[tuple[int, str]]:
    with pytest.raises(RecipeRefused) as refused:
        read_goal_text(text, CATALOGUE)
    return [(p.row, p.field) for p in refused.value.problems]


def test_every_key_is_read_exactly(catalogue: Catalogue) -> None:
    goal = read_goal_text(WHOLE, catalogue)
    assert (goal.name, goal.kind, goal.audience, goal.sold_in) == ("Slack Water", "foaming", "pregnancy", ("uk", "eu"))
    assert (goal.measures, goal.made_on, goal.seek) == ("metric", date(2026, 11, 25), "cheapest")
    assert (goal.makes.mould, goal.makes.count, goal.tub.litres) == ("sphere_65", 6, 130)
    assert goal.acid_to_base_eq == Window(0.8, 1.0) and goal.gas_l == Window(9.0, None)
    assert goal.ph_settled == Window(6.8, 7.6)
    assert (goal.filler_pct, goal.oil_pct) == (Window(8, 20), Window(None, 3))
    assert (goal.clay_pct, goal.foam_pct) == (Window(0, 0), Window(2, None))
    assert (goal.hardness_at_least, goal.colour) == ("firm", "none")
    assert goal.scent.families == {"citrus": 3, "woody": 1}
    assert goal.scent.oils == {"sweet_orange": 60, "cedarwood_virginian": 20}
    assert (goal.scent.total_pct, goal.scent.most_oils) == (Window(0.3, 0.8), 3)
    assert (goal.with_materials, goal.avoid_materials) == (("kaolin",), ("talc",))
    # as the label writes them, and the group by its own name
    assert (goal.avoid_allergens, goal.avoid_groups) == (("Limonene", "Linalool"), ("animal",))
    assert goal.stock_only and goal.stock_g == {"citric_acid": 500, "kaolin": 90.5}
    assert (goal.cost_most_minor, goal.cost_currency) == (60, "GBP")
    assert (goal.measured_in, goal.spoons) == ("spoons", ("1 cup", "1/2 tsp"))
    assert (goal.chance, goal.limits_by, goal.limit_share) == (0.99, "typical", 0.5)
    assert WHOLE.split("\n")[goal.rows["scent.families"] - 1].startswith("families")
    assert goal.text == WHOLE


def test_what_is_left_out_asks_for_nothing(catalogue: Catalogue) -> None:
    goal = read_goal_text(HEAD + MAKES, catalogue)
    assert (goal.kind, goal.audience, goal.measured_in, goal.limits_by, goal.seek) == (
        "fizzer",
        "adult",
        "grams",
        "worst",
        "nearest",
    )
    assert goal.ph_settled == goal.gas_l == goal.scent.total_pct == OPEN
    assert goal.cost_most_minor is None and goal.chance is None and not goal.scent.is_asked and goal.colour is None


def test_a_powder_needs_no_mould(catalogue: Catalogue) -> None:
    goal = read_goal_text(HEAD + 'kind = "powder"\n[makes]\ncount = 5\n', catalogue)
    assert (goal.makes.mould, goal.makes.count) == (None, 5)


def test_families_are_the_words_of_the_oil_table() -> None:
    # oils.csv of this house: "citrus-floral" is of both; read off the table itself, so a new word there is a new family
    known = families(CATALOGUE)
    assert {"citrus", "floral", "woody", "spicy", "minty"} <= set(known) and "citrus-floral" not in known
    assert {w for oil in CATALOGUE.oils.values() for w in oil.odour_family.split("-")} == set(known)


@pytest.mark.parametrize(
    ("more", "row", "field", "says", "nearest"),
    [
        ("[fizz]\nacid_to_bas = [1, 1]", 6, "fizz.acid_to_bas", 'no key "acid_to_bas"', "acid_to_base"),
        ("[feels]\nfiller_pct = [1, 2]", 5, "feels", 'no key "feels"', "feel"),
        ("[colour]\nfiller_pct = [1, 2]", 6, "colour.filler_pct", "belongs in [feel]", ""),
        ("[fizz]\nacid_to_base = 0.9", 6, "fizz.acid_to_base", "from where to where", ""),
        ("[fizz]\nacid_to_base = [0.9]", 6, "fizz.acid_to_base", "from where to where", ""),
        ("[fizz]\nacid_to_base = [1.0, 0.9]", 6, "fizz.acid_to_base", "ends below where it begins", ""),
        ("[fizz]\ngas_l = { at_lest = 9 }", 6, "fizz.gas_l", 'no "at_lest"', "at_least"),
        ("[fizz]\ngas_l = {}", 6, "fizz.gas_l", "neither at_least nor at_most", ""),
        ("[fizz]\ngas_l = [-1, 4]", 6, "fizz.gas_l", "out of range", ""),
        ("[fizz]\ngas_l = [nan, 4]", 6, "fizz.gas_l", "plain numbers", ""),
        ('[water]\nph_settled = ["6", 7]', 6, "water.ph_settled", 'without "quotes"', ""),
        ("[water]\nph_settled = [true, 7]", 6, "water.ph_settled", "plain numbers", ""),
        ("[water]\nph_settled = [2, 7]", 6, "water.ph_settled", "out of range", ""),
        ('[feel]\nhardness_at_least = "hrd"', 6, "feel.hardness_at_least", "none of the words", "hard"),
        ('[colour]\nuse = "kaolin"', 6, "colour.use", "is no colour", ""),
        ('[colour]\nuse = "mca"', 6, "colour.use", "No colour of that id", "mica"),
        ("[scent]\nfamilies = { citrusy = 1 }", 6, "scent.families.citrusy", "No oil here", "citrus"),
        ("[scent.families]\ncitrus-floral = 1", 6, "scent.families.citrus-floral", "No oil here", "citrus"),
        ("[scent]\nfamilies = { citrus = -2 }", 6, "scent.families.citrus", "out of range", ""),
        ("[scent]\nfamilies = ['citrus']", 6, "scent.families", "each with a number", ""),
        ("[scent]\noils = { sweet_orang = 1 }", 6, "scent.oils.sweet_orang", "No essential oil", "sweet_orange"),
        ("[scent]\noils = { kaolin = 1 }", 6, "scent.oils.kaolin", "No essential oil", ""),
        ("[scent]\nmost_oils = 1.5", 6, "scent.most_oils", "whole number", ""),
        ('[with]\nmaterials = "kaolin"', 6, "with.materials", "must be a list", ""),
        ('[with]\nmaterials = ["kaolinn"]', 6, "with.materials", "No material or oil", "kaolin"),
        ('[avoid]\nmaterials = ["linalool"]', 6, "avoid.materials", "avoid.allergens", ""),
        ('[avoid]\nallergens = ["Limonen"]', 6, "avoid.allergens", "No fragrance allergen", "Limonene"),
        ('[avoid]\ngroups = ["nut butter"]', 6, "avoid.groups", "not known here", ""),
        ("[stock]\nonly = 1", 6, "stock.only", "true or false", ""),
        ('[stock]\ngrams = { kaolin = "90 g" }', 6, "stock.grams.kaolin", "number alone", ""),
        ('[cost]\npiece_at_most = "12"', 6, "cost.piece_at_most", "does not say of which money", ""),
        ("[cost]\npiece_at_most = 0.6", 6, "cost.piece_at_most", "does not say of which money", ""),
        ('[cost]\npiece_at_most = "-1 GBP"', 6, "cost.piece_at_most", "less than nothing", ""),
        ('[cost]\npiece_at_most = "0.605 GBP"', 6, "cost.piece_at_most", "no smaller coin", ""),
        ('[cost]\npiece_at_most = "0.5 JPY"', 6, "cost.piece_at_most", "no smaller coin", ""),
        ('[cost]\npiece_at_most = "0 GBP"', 6, "cost.piece_at_most", "out of range", ""),
        ('[amounts]\nin = "spoon"', 6, "amounts.in", "none of the words", "spoons"),
        ('[amounts]\nin = "spoons"\nspoons = ["1 g"]', 7, "amounts.spoons", "no cup or spoon", ""),
        ("[kitchens]\nchance = 99", 6, "kitchens.chance", "Write 0.99 for 99 %", ""),
        ("[kitchens]\nchance = 1", 6, "kitchens.chance", "out of range", ""),
        ('[limits]\nby = "worse"', 6, "limits.by", "none of the words", "worst"),
        ("[tub]\nfizzed_in_s = 90", 6, "tub.fizzed_in_s", "no key", ""),
    ],
)
def test_refuses(more: str, row: int, field: str, says: str, nearest: str) -> None:
    with pytest.raises(RecipeRefused) as refused:
        read_goal_text(HEAD + MAKES + more + "\n", CATALOGUE)
    (problem,) = refused.value.problems
    assert (problem.row, problem.field) == (row, field) and says in problem.text and problem.allowed
    assert problem.file == "the goal"
    assert not nearest or problem.nearest[0] == nearest


@pytest.mark.parametrize(
    ("more", "field", "says"),
    [
        (
            '[with]\nmaterials = ["talc"]\n[avoid]\nmaterials = ["talc"]',
            "with.materials",
            "left out by avoid.materials",
        ),
        ('[with]\nmaterials = ["hazelnut_oil"]\n[avoid]\ngroups = ["nuts"]', "with.materials", "avoid.groups as nuts"),
        ('[colour]\nuse = "carmine"\n[avoid]\ngroups = ["animal"]', "colour.use", "avoid.groups as animal"),
        ('[colour]\nuse = "none"\n[with]\nmaterials = ["mica"]', "colour.use", "with.materials asks for mica"),
        ("[scent]\noils = { geranium = 1 }\n[avoid]\nmaterials = ['geranium']", "scent.oils", "left out"),
        ("[scent]\nfamilies = { woody = 1 }\noils = { spearmint = 1 }", "scent.oils.spearmint", "none of the families"),
        ("[scent]\nfamilies = { woody = 1 }\noils = { spearmint = 1 }", "scent.families.woody", "None of the oils"),
        ("[scent]\noils = { geranium = 1, lavender = 1 }\nmost_oils = 1", "scent.most_oils", "at most 1 may go in"),
        ("[scent]\nfamilies = { minty = 1 }\ntotal_pct = [0, 0]", "scent.total_pct", "no room"),
        ("[feel]\nfiller_pct = [90, 95]\noil_pct = [6, 9]\n[scent]\ntotal_pct = [5, 6]", "scent.total_pct", "101 %"),
        ("[feel]\nclay_pct = [70, 80]\nfiller_pct = [20, 90]\noil_pct = [31, 40]", "feel.oil_pct", "101 %"),
        ('[stock]\nonly = true\ngrams = { talc = 0 }\n[with]\nmaterials = ["talc"]', "with.materials", "there is none"),
        ('[amounts]\nspoons = ["1 tsp"]', "amounts.spoons", "yet the amounts are to be in grams"),
    ],
)
def test_demands_that_contradict_each_other_are_told(more: str, field: str, says: str) -> None:
    with pytest.raises(RecipeRefused) as refused:
        read_goal_text(HEAD + MAKES + more + "\n", CATALOGUE)
    assert any(p.field == field and says in str(p) for p in refused.value.problems)


def test_clay_is_filler_and_is_not_counted_twice() -> None:
    read_goal_text(HEAD + MAKES + "[feel]\nclay_pct = [60, 70]\nfiller_pct = [60, 70]\noil_pct = [10, 20]\n", CATALOGUE)


@pytest.mark.parametrize(
    ("text", "field"),
    [
        (HEAD, "makes"),
        (MAKES, "name"),
        (HEAD + "[makes]\ncount = 4\n", "makes.mould"),
        (HEAD + '[makes]\nmould = "sphere_65"\n', "makes.count"),
        (HEAD + 'kind = "powder"\n' + MAKES, "makes.mould"),
        (HEAD + 'kind = "layered"\n' + MAKES, "kind"),
        (HEAD + 'seek = "most_scent"\n' + MAKES, "seek"),
        (HEAD + 'kind = "powder"\n[makes]\ncount = 2\n[feel]\nhardness_at_least = "firm"\n', "feel.hardness_at_least"),
        (HEAD + 'kind = "foaming"\n' + MAKES + "[feel]\nfoam_pct = [0, 0]\n", "feel.foam_pct"),
        (HEAD + "fizz = 3\n" + MAKES, "fizz"),
    ],
)
def test_what_is_made_must_be_said_and_hold_together(text: str, field: str) -> None:
    assert [f for _, f in problems(text)] == [field]


def test_everything_wrong_comes_at_once_in_order_of_rows() -> None:
    text = (
        'name = ""\nkind = "fiz"\n[makes]\nmould = "sphere_6"\ncount = -1\n[fizz]\ngas_l = 3\n[kitchens]\nchance = 2\n'
    )
    found = problems(text)
    assert found == sorted(found) and [field for _, field in found] == [
        "name",
        "kind",
        "makes.mould",
        "makes.count",
        "fizz.gas_l",
        "kitchens.chance",
    ]


def test_money_must_be_the_workshops(quillmoor: Path) -> None:
    catalogue, workshop = open_workshop(quillmoor)
    text = HEAD + MAKES + '[cost]\npiece_at_most = "0.60 USD"\n'
    assert read_goal_text(text, catalogue).cost_currency == "USD"
    with pytest.raises(RecipeRefused, match="are in GBP"):
        read_goal_text(text, catalogue, None, workshop)


def test_an_empty_stock_is_told(quillmoor: Path) -> None:
    text = HEAD + MAKES + "[stock]\nonly = true\n"
    catalogue, workshop = open_workshop(quillmoor)
    emptied = replace(workshop, prices=tuple(replace(price, on_hand_g=None) for price in workshop.prices))
    with pytest.raises(RecipeRefused, match="says that anything is"):
        read_goal_text(text, catalogue, None, emptied)
    assert read_goal_text(text + "grams = { talc = 5 }\n", catalogue, None, emptied).stock_only
    stocked = replace(workshop, prices=(replace(workshop.prices[0], on_hand_g=400.0),))
    assert read_goal_text(text, catalogue, None, stocked).stock_only


def test_files_that_are_no_goal(catalogue: Catalogue, tmp_path: Path) -> None:
    with pytest.raises(RecipeRefused, match="There is no such file"):
        read_goal(tmp_path / "none.toml", catalogue)
    with pytest.raises(RecipeRefused, match="Name the goal file inside it"):
        read_goal(tmp_path, catalogue)
    (tmp_path / "empty.toml").write_text(" \n")
    with pytest.raises(RecipeRefused, match="Start with a name and \\[makes\\]"):
        read_goal(tmp_path / "empty.toml", catalogue)
    with pytest.raises(RecipeRefused, match="too large for a goal"):
        read_goal_text("#" + "x\n#" * 700_000, catalogue)


@pytest.mark.parametrize("file", GOALS, ids=lambda file: file.stem)
def test_the_goals_of_the_demo_are_read_and_hold_to_the_schema(file: Path, quillmoor: Path) -> None:
    catalogue, workshop = open_workshop(quillmoor)
    goal = read_goal(file, catalogue, workshop)
    assert goal.makes.count and goal.file == file
    VALIDATOR.validate(as_json(file.read_text(encoding="utf-8")))


def test_there_are_three_goals_in_the_demo() -> None:
    assert {file.stem for file in GOALS} == {"slack_water", "marram_clay", "both_ways"}


def test_the_goal_of_the_manual_is_read_and_the_manual_tells_every_key() -> None:
    manual = (ROOT / "docs/goal.md").read_text(encoding="utf-8")
    (text,) = re.findall(r"```toml\n(.*?)```", manual, re.S)
    assert read_goal_text(text, CATALOGUE).scent.is_asked
    for level, keys in GOAL.keys.items():
        if level not in ("tub", "tub.water"):
            starts = ("`", "`[", f"[{level}] ", f"[{level}.")
            assert all(any(f"{start}{key}" in manual for start in starts) for key in keys), level
    assert set(re.findall(r"`(\w+)\.toml`", manual)) >= {file.stem for file in GOALS}


def test_the_schema_is_good_and_published() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())
    assert (ROOT / "docs/goal.schema.json").read_text(encoding="utf-8") == schema_text(), (
        "write it again: fizzwright compose --schema > docs/goal.schema.json"
    )
    VALIDATOR.validate(as_json(WHOLE))


def test_the_schema_names_every_key_and_no_other() -> None:
    found = schema()["properties"]
    assert tuple(found) == GOAL.keys[""]
    for level, keys in GOAL.keys.items():
        if level and level != "tub.water":
            assert tuple(found[level]["properties"]) == keys
    assert set(WINDOWS) == {
        f"{level}.{key}"
        for level, table in found.items()
        for key, value in table.get("properties", {}).items()
        if "at_least" in json.dumps(value)
    }


@pytest.mark.parametrize(
    "more",
    [
        "[fizz]\nacid_to_base = 0.9",
        "[fizz]\ngas_l = [1, 2, 3]",
        "[fizz]\ngas_l = {}",
        "[water]\nph_settled = [2, 7]",
        "[scent]\nmost_oils = 0",
        "[scent]\nfamilies = { citrus = 0 }",
        '[cost]\npiece_at_most = "12"',
        "[kitchens]\nchance = 99",
        '[stock]\nonly = "yes"',
        '[stock]\ngrams = { kaolin = "9 g" }',
        '[avoid]\nmaterials = "talc"',
        '[feel]\nhardness_at_least = "rock"',
        "[oddity]\na = 1",
    ],
)
def test_schema_and_reader_refuse_the_same_forms(more: str) -> None:
    text = HEAD + MAKES + more + "\n"
    assert problems(text) and not VALIDATOR.is_valid(as_json(text))


WORDS = st.sampled_from(
    [
        "citrus",
        "kaolin",
        "sweet_orange",
        "Limonene",
        "none",
        "nuts",
        "1 tsp",
        "0.60 GBP",
        "spoons",
        "worst",
        "firm",
        "",
        "é",
    ]
)
VALUES = st.recursive(
    st.none().map(lambda _: True)
    | st.integers(-(10**20), 10**20)
    | st.floats()
    | WORDS
    | st.text(max_size=12)
    | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(WORDS | st.text(max_size=6), inner, max_size=3),
    max_leaves=6,
)
TABLES = {
    level: st.dictionaries(st.sampled_from(keys), VALUES, max_size=4) for level, keys in GOAL.keys.items() if level
}


@given(
    st.fixed_dictionaries(
        {}, optional={key: TABLES.get(key, VALUES) | VALUES for key in (*GOAL.keys[""], "nam", "feels")}
    )
)
def test_any_values_are_read_or_refused_never_worse(data: dict[str, Any]) -> None:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        text = tomlkit.dumps(data)
        tomllib.loads(text)
    except (tomllib.TOMLDecodeError, TOMLKitError, UnicodeError):
        return
    try:
        goal = read_goal_text(text, CATALOGUE)
    except RecipeRefused as refused:
        assert refused.problems and all(p.text and p.file == "the goal" for p in refused.problems)
    else:
        assert goal.name and goal.makes.count


@given(st.sampled_from([WHOLE, *(file.read_text(encoding="utf-8") for file in GOALS)]), st.data())
def test_a_damaged_goal_is_read_or_refused_never_worse(text: str, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(text)))
    gone = data.draw(st.integers(0, 12))
    put = data.draw(st.text(max_size=6) | st.sampled_from(['"', "[", "]", "{", "=", "\n", "-", "1e400", "[[line]]"]))
    try:
        read_goal_text(text[:place] + put + text[place + gone :], CATALOGUE)
    except Refusal as refused:
        assert str(refused)
