"""Amounts: every usual spelling gives the same exact number, and what cannot be measured is refused in plain words."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.recipe.amounts import (
    FILLED,
    UNITS,
    AmountRefused,
    format_amount,
    format_number,
    parse_amount,
    parse_number,
)
from fizzwright.recipe.model import HABITS, Amount

VULGAR = {"½": Fraction(1, 2), "⅓": Fraction(1, 3), "⅔": Fraction(2, 3), "¼": Fraction(1, 4), "¾": Fraction(3, 4)}
VULGAR |= {"⅛": Fraction(1, 8), "⅜": Fraction(3, 8), "⅝": Fraction(5, 8), "⅞": Fraction(7, 8), "⅕": Fraction(1, 5)}
VULGAR |= {"⅙": Fraction(1, 6), "⅚": Fraction(5, 6), "⅐": Fraction(1, 7), "⅑": Fraction(1, 9), "⅒": Fraction(1, 10)}


@pytest.mark.parametrize(("sign", "value"), VULGAR.items())
@pytest.mark.parametrize("whole", [0, 1, 12])
def test_every_spelling_of_a_fraction_is_the_same_number(sign: str, value: Fraction, whole: int) -> None:
    top, bottom = value.numerator, value.denominator
    spellings = [f"{top}/{bottom}", sign, f"{top} / {bottom}", f"{top}⁄{bottom}"]
    if whole:
        joins = [" ", "-", " - ", "–", "\u00a0", "\u2009", " and ", " & "]
        spellings = [f"{whole}{join}{top}/{bottom}" for join in joins] + [f"{whole}{sign}", f"{whole} {sign}"]
        spellings.append(f"{whole * bottom + top}/{bottom}")
    for text in spellings:
        assert parse_number(text) == whole + value, text
        assert parse_amount(f"  {text} Cups ").number == whole + value, text


@given(st.fractions(min_value=Fraction(1, 1000), max_value=900, max_denominator=1000), st.sampled_from(UNITS))
def test_what_is_written_is_read_again(number: Fraction, unit: str) -> None:
    if unit == "%":
        number = min(number, Fraction(100))
    amount = Amount("", number, unit)
    text = format_amount(amount)
    again = parse_amount(text)
    assert (again.number, again.unit, again.habit) == (number, unit, None)
    assert format_amount(again) == text


@given(st.decimals(min_value="0.001", max_value="99999", places=3))
def test_decimals_are_exact_with_point_or_comma(number: Decimal) -> None:
    text = f"{number:f}"
    assert parse_number(text) == Fraction(number)
    if not text.startswith("0"):
        with pytest.raises(AmountRefused, match="decimal or thousands"):
            parse_number(text.replace(".", ","))
    assert parse_number(text.replace(".", ",") + "0") == Fraction(number)


@pytest.mark.parametrize(
    ("text", "number", "unit", "habit"),
    [
        ("1,5 g", "3/2", "g", None),
        ("0,500 kg", "1/2", "kg", None),
        (".5 g", "1/2", "g", None),
        ("7.5g", "15/2", "g", None),
        ("2%", "2", "%", None),
        ("2 Tablespoons", "2", "tbsp", None),
        ("3 teaspoons", "3", "tsp", None),
        ("1 KG", "1", "kg", None),
        ("5 Fl. Oz.", "5", "fl_oz", None),
        ("5 fl_oz", "5", "fl_oz", None),
        ("2 fluid ounces", "2", "fl_oz", None),
        ("2 ounces", "2", "oz", None),
        ("12 drops", "12", "drop", None),
        ("1 drop", "1", "drop", None),
        ("2 litres", "2", "l", None),
        ("250 ML", "250", "ml", None),
        ("1 cup packed", "1", "cup", "packed"),
        ("1 packed cup", "1", "cup", "packed"),
        ("1 cup (sieved)", "1", "cup", "sieved"),
        ("1 cup, scooped", "1", "cup", "scooped"),
        ("1 level tsp", "1", "tsp", "spooned"),
        ("2 parts", "2", "part", None),
        ("3 pinches", "3", "pinch", None),
        ("٣ g", "3", "g", None),
        ("７ g", "7", "g", None),
    ],
)
def test_reads(text: str, number: str, unit: str, habit: str | None) -> None:
    amount = parse_amount(text)
    assert (amount.text, amount.number, amount.unit, amount.habit) == (text, Fraction(number), unit, habit)


def test_reads_to_consistency() -> None:
    amount = parse_amount(" To Consistency ")
    assert (amount.number, amount.unit) == (None, "to_consistency")
    assert format_amount(amount) == "to consistency"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("g", "start with a number"),
        ("3", "unit is missing"),
        ("nan g", "anyone can measure"),
        ("inf g", "anyone can measure"),
        ("-inf g", "anyone can measure"),
        ("1e308 g", "without e"),
        ("1e5 g", "without e"),
        ("-1 g", "below zero"),
        ("−1 g", "below zero"),
        ("-½ cup", "below zero"),
        ("0 g", "zero"),
        ("0/3 cup", "zero"),
        ("0.000 g", "zero"),
        ("1/0 cup", "0 below the line"),
        ("1 3/2 cup", "smaller than one"),
        ("1" * 40 + " g", "too many digits"),
        ("1,500 g", "Write 1.500 or 1500"),
        ("1,500.5 g", "decimal or thousands"),
        ("1 500 g", "two numbers"),
        ("½½ cup", "two numbers"),
        ("1–2 cups", "range"),
        ("1 - 2 cups", "range"),
        ("1.5.2 g", "not a number"),
        ("2 T", "tablespoon or teaspoon"),
        ("2 t", "tablespoon or teaspoon"),
        ("5 gr", "grams or grains"),
        ("50 mg", "0.05 g"),
        ("1 heaped tsp", "hand to hand"),
        ("2 dropz", "no unit"),
        ("10² g", "no unit"),
        ("1 cup baking soda", "goes in use"),
        ("7 g packed", "goes with a cup"),
        ("9 drops sieved", "goes with a cup"),
        ("1001 kg", "1,000 kg"),
        ("5000 cups", "1,000 kg"),
        ("101 %", "100 percent"),
        ("1 cup packed sieved", "goes in use"),
        ("packed cup", "start with a number"),
    ],
)
def test_refuses(text: str, says: str) -> None:
    with pytest.raises(AmountRefused, match=says) as refused:
        parse_amount(text)
    assert refused.value.allowed


def test_offers_the_nearest_unit() -> None:
    with pytest.raises(AmountRefused) as refused:
        parse_amount("2 dropz")
    assert refused.value.nearest[0] == "drop"


@given(st.text(max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        amount = parse_amount(text)
    except AmountRefused as refused:
        assert str(refused)
    else:
        assert amount.number is None or amount.number > 0


@given(st.fractions(min_value=Fraction(1, 999), max_value=500, max_denominator=999), st.sampled_from(HABITS))
def test_habits_survive_writing(number: Fraction, habit: str) -> None:
    for unit in FILLED:
        amount = parse_amount(format_amount(Amount("", number, unit, habit)))
        assert (amount.number, amount.unit, amount.habit) == (number, unit, habit)


def test_decimals_where_scales_show_decimals_and_fractions_where_cups_do() -> None:
    half = Fraction(3, 2)
    assert format_number(half, decimal=True) == "1.5"
    assert format_number(half, decimal=False) == "1 1/2"
    assert format_number(Fraction(1, 3), decimal=True) == "1/3"
    assert format_amount(Amount("", Fraction(15, 2), "g")) == "7.5 g"
    assert format_amount(Amount("", Fraction(9), "drop")) == "9 drops"
    assert format_amount(Amount("", Fraction(1), "drop")) == "1 drop"
