"""Scaling is exact: k and then 1/k gives the recipe back."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import Catalogue, load
from fizzwright.recipe.amounts import AmountRefused
from fizzwright.recipe.document import read_text
from fizzwright.recipe.model import Line
from fizzwright.recipe.scaling import scaled
from fizzwright.recipe.weigh import weigh

from .documents import ORCHARD, documents
from .test_document import CITRIC, HEAD, LINE

CATALOGUE = load()
"""For property tests: a fixture would be spelled out in full with every failure."""


def key(line: Line) -> tuple[object, ...]:
    return line.use, line.amount.number, line.amount.unit, line.amount.habit, line.lot, line.part, line.diluted_in


@given(documents(), st.fractions(min_value=Fraction(1, 20), max_value=20, max_denominator=50))
def test_k_and_then_its_inverse_is_the_identity(text: str, k: Fraction) -> None:
    there = scaled(text, k)
    back = scaled(there, 1 / k)
    first, last = read_text(text, CATALOGUE), read_text(back, CATALOGUE)
    assert [key(line) for line in first.lines] == [key(line) for line in last.lines]
    assert (first.name, first.makes, first.tub) == (last.name, last.makes, last.tub)
    middle = read_text(there, CATALOGUE)
    assert [line.amount.number for line in middle.lines] == [k * (x.amount.number or 0) for x in first.lines]


def test_grams_follow_the_factor_with_shares_and_binder(catalogue: Catalogue) -> None:
    text = HEAD + LINE + CITRIC.replace("100 g", "30 %")
    text += '[[line]]\nuse = "isopropyl_alcohol_91"\namount = "to consistency"\n'
    once, thrice = (weigh(read_text(t, catalogue), catalogue) for t in (text, scaled(text, 3)))
    assert thrice.grams == pytest.approx(3 * once.grams, rel=1e-12)


def test_a_float_is_taken_to_a_near_fraction_and_one_changes_nothing() -> None:
    assert scaled(ORCHARD, 1) == ORCHARD
    assert scaled(ORCHARD, 0.5) == scaled(ORCHARD, Fraction(1, 2))
    assert '"2 1/4 cup"' in scaled(ORCHARD, 1.5)


@pytest.mark.parametrize("factor", [0, -1, Fraction(-1, 2), 0.0])
def test_a_factor_must_be_above_nothing(factor: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        scaled(ORCHARD, factor)


def test_growing_past_what_a_line_may_hold_is_refused() -> None:
    with pytest.raises(AmountRefused, match="1,000 kg"):
        scaled(ORCHARD, 100_000)
