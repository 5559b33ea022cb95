"""Tidying and editing keep the meaning and every comment; tomlkit, a general-purpose reader, is the judge of meaning."""

import tomllib
from datetime import date
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import load
from fizzwright.recipe.amounts import parse_amount
from fizzwright.recipe.document import read_text
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.recipe.tidy import add_line, remove_line, set_value, tidy, with_amounts

from .documents import ORCHARD, documents

CATALOGUE = load()
"""For property tests: a fixture would be spelled out in full with every failure."""


def meaning(text: str) -> dict[str, Any]:
    """What tomlkit reads, with amounts as exact numbers."""
    data = tomlkit.parse(text).unwrap()
    for line in data.get("line", []):
        amount = parse_amount(line["amount"])
        line["amount"] = (amount.number, amount.unit, amount.habit)
    return data


def comments(text: str) -> list[str]:
    """The comments of a document whose strings hold no hash but in a name."""
    return sorted(row.split("#", 1)[1].strip() for row in text.replace("Drift # 2", "").split("\n") if "#" in row)


@given(documents())
def test_tidy_keeps_meaning_and_comments_and_is_idempotent(text: str) -> None:
    once = tidy(text)
    assert meaning(once) == meaning(text)
    assert comments(once) == comments(text)
    assert tidy(once) == once


@given(documents())
def test_reading_what_was_tidied_gives_the_same(text: str) -> None:
    before, after = (read_text(t, CATALOGUE) for t in (text, tidy(text)))
    assert before.name == after.name
    assert (before.makes, before.tub, before.sold_in) == (after.makes, after.tub, after.sold_in)
    key = [(x.use, x.amount.number, x.amount.unit, x.amount.habit, x.part, x.diluted_in, x.lot) for x in before.lines]
    assert key == [
        (x.use, x.amount.number, x.amount.unit, x.amount.habit, x.part, x.diluted_in, x.lot) for x in after.lines
    ]


def test_tidy_puts_keys_and_amounts_in_canonical_form() -> None:
    text = (
        "# a head comment\n\n# of the kind\nkind='fizzer' # k\nname = \"X\"\n"
        "[[line]]\namount=\"1½ cups\"   # heap\nuse='citric_acid'\n[makes]\ncount=4\nmould='egg'\n\n# the end"
    )
    assert tidy(text) == (
        "# a head comment\n\nname = \"X\"\n# of the kind\nkind = 'fizzer'  # k\n\n"
        "[makes]\nmould = 'egg'\ncount = 4\n\n"
        "[[line]]\nuse = 'citric_acid'\namount = \"1 1/2 cup\"  # heap\n\n# the end\n"
    )


@pytest.mark.parametrize(
    "text",
    [
        "[[line]]\na.b = 1\n[line.c]\nd = 2\n[[line]]\ne = 3\n[tub.water]\nph = 7\n[tub]\nlitres = 1\n",
        "tub.litres = 1\n[tub.water]\nph = 7\n[[z.y]]\nq = 1\n[[z.y]]\nq = 2\n[z.y.x]\nr = 3\n[a]\n",
        '"a#b" = 1\n["c # d"] # e\nx = """\n#f\n[[line]]\n"""\n[makes]\n',
        "line = [\n  { use = 'a', amount = '1 g' }, # one\n  { use = 'b' },\n]\nname = 'x'\n",
        "[[line]]\n[tub]\n[[line]]\nuse = 'b'\n",
    ],
)
def test_tidy_keeps_the_meaning_of_any_toml(text: str) -> None:
    assert tomllib.loads(tidy(text)) == tomllib.loads(text)
    assert tidy(tidy(text)) == tidy(text)


def test_tidy_leaves_unreadable_amounts_for_the_reader() -> None:
    text = 'name = "X"\n\n[[line]]\nuse = "water"\namount = "some"\n'
    assert tidy(text) == text


def test_tidy_takes_windows_line_ends_and_a_byte_order_mark() -> None:
    assert tidy("\ufeff" + ORCHARD.replace("\n", "\r\n")) == tidy(ORCHARD).replace("\n", "\r\n")


def test_tidy_refuses_what_is_not_toml() -> None:
    with pytest.raises(RecipeRefused):
        tidy("two cups of soda")


@given(documents(), st.integers(min_value=0, max_value=7), st.sampled_from(("2 tbsp", "7.5 g", "1/3 cup packed")))
def test_one_amount_changes_and_nothing_else(text: str, index: int, amount: str) -> None:
    data = tomllib.loads(text)
    index %= len(data["line"])
    changed = with_amounts(text, {index: amount})
    data["line"][index]["amount"] = amount
    assert tomllib.loads(changed) == data
    assert comments(changed) == comments(text)
    assert len(changed.split("\n")) == len((text.rstrip("\n") + "\n").split("\n"))


@given(documents())
def test_any_value_can_be_set_where_there_was_one_or_none(text: str) -> None:
    values: dict[tuple[str, ...], Any] = {
        ("name",): 'Pebbles "for a jar"',
        ("kind",): "foaming",
        ("audience",): "pregnancy",
        ("measures",): "au",
        ("sold_in",): ["uk", "au"],
        ("made_on",): date(2026, 12, 1),
        ("makes", "mould"): "mesh:heart.stl",
        ("makes", "count"): 12,
        ("tub", "litres"): 120.5,
        ("tub", "water"): {"ph": 7.6, "alkalinity_mmol_l": 4.8},
        ("tub", "pieces"): 3,
    }
    data = tomllib.loads(text)
    was = comments(text)
    for path, value in values.items():
        text = set_value(text, path, value)
        home = data
        for part in path[:-1]:
            home = home.setdefault(part, {})
        home[path[-1]] = value
        assert tomllib.loads(text) == data, path
    assert set(was) - set(comments(text)) <= {"where"}, "only the comment inside the replaced list may go"
    for path in values:
        text = set_value(text, path, None)
        home = data
        for part in path[:-1]:
            home = home[part]
        del home[path[-1]]
        assert tomllib.loads(text) == data, path


def test_a_value_inside_a_water_table_or_word() -> None:
    inline = ORCHARD.replace('"moderately_hard"', "{ alkalinity_mmol_l = 1.9 }  # tap")
    changed = set_value(inline, ("tub", "water", "ph"), 7.6)
    assert tomllib.loads(changed)["tub"]["water"] == {"alkalinity_mmol_l": 1.9, "ph": 7.6}
    assert "# tap" in changed
    word = set_value(ORCHARD, ("tub", "water", "alkalinity_mmol_l"), 2.5)
    assert tomllib.loads(word)["tub"]["water"] == {"alkalinity_mmol_l": 2.5}
    table = ORCHARD.replace('water = "moderately_hard"\n', "") + "[tub.water]\nalkalinity_mmol_l = 1.9\n"
    assert tomllib.loads(set_value(table, ("tub", "water"), "soft"))["tub"]["water"] == "soft"


@given(documents(), st.integers(min_value=0, max_value=7))
def test_a_line_added_and_removed_again(text: str, index: int) -> None:
    data = tomllib.loads(text)
    more = add_line(text, "vetiver", "3 drops", lot="VT-2610-01", part="whole")
    data["line"].append({"use": "vetiver", "amount": "3 drops", "lot": "VT-2610-01"})
    assert tomllib.loads(more) == data
    assert comments(more) == comments(text)
    index %= len(data["line"])
    del data["line"][index]
    fewer = remove_line(more, index)
    assert tomllib.loads(fewer).get("line", []) == data["line"]
    assert set(comments(fewer)) <= set(comments(text))


def test_lines_in_an_inline_array_can_be_edited_too() -> None:
    text = 'name = "X"\nline = [{use = "water", amount = "1 g"}, {use = "salt", amount = "2 g"}]  # short\n'
    changed = remove_line(add_line(set_value(text, ("line", 1, "amount"), "3 g"), "kaolin", "4 g"), 0)
    assert tomllib.loads(changed)["line"] == [{"use": "salt", "amount": "3 g"}, {"use": "kaolin", "amount": "4 g"}]
    assert "# short" in changed


def test_a_line_that_is_not_there() -> None:
    with pytest.raises(KeyError, match="counted from 0"):
        with_amounts(ORCHARD, {9: "1 g"})
    with pytest.raises(KeyError, match="counted from 0"):
        remove_line(ORCHARD, 9)
