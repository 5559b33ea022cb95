"""Scaling a document: every amount times one factor, in the units the maker wrote, exactly."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from fizzwright.recipe.amounts import format_amount, parse_amount
from fizzwright.recipe.document import parse
from fizzwright.recipe.tidy import with_amounts


def scaled(text: str, factor: Fraction | int | float) -> str:
    """The document with every amount times `factor`; % and "to consistency" stay, as they follow the rest.

    Exact for a Fraction or an int, so that k and then 1/k is the identity; a float is taken to the nearest fraction
    of at most four digits below the line. The count of moulds is not touched. ValueError for a factor not above 0.
    AmountRefused when an amount cannot be read, or when it would leave what one line may hold.
    """
    exact = Fraction(factor).limit_denominator(9999) if isinstance(factor, float) else Fraction(factor)
    if exact <= 0:
        raise ValueError(f"a recipe is scaled by a number above 0; read {factor}")
    data, text = parse(text)
    lines = data.get("line")
    amounts: dict[int, str] = {}
    for index, line in enumerate(lines if isinstance(lines, list) else []):
        amount = parse_amount(str(line.get("amount", "") if isinstance(line, dict) else line))
        if amount.number is None or amount.unit == "%" or exact == 1:
            continue
        written = format_amount(replace(amount, number=amount.number * exact))
        parse_amount(written)
        amounts[index] = written
    return with_amounts(text, amounts)
