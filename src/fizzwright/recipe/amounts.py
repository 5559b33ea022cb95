"""Amounts as makers write them: "1½ cups", "2 tbsp packed", "9 drops", "7.5 g", "2 %", "to consistency"."""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction
from functools import lru_cache

from fizzwright.recipe.model import Amount

UNITS = (
    "g", "kg", "oz", "lb", "ml", "l", "tsp", "tbsp", "cup", "fl_oz", "drop", "spray", "pinch", "%", "part",
)  # fmt: skip
WEIGHED = ("g", "kg", "oz", "lb")
FILLED = ("ml", "l", "tsp", "tbsp", "cup", "fl_oz", "pinch", "part")
"""Units that fill a vessel: the ones a filling habit can go with."""
COUNTED = ("drop", "spray")
TO_CONSISTENCY = "to_consistency"
ALLOWED = (
    "a number and one of g, kg, oz, lb, ml, l, tsp, tbsp, cup, fl_oz, drops, sprays, pinch, %, parts; "
    'or "to consistency"'
)

_SPELLINGS = {
    "g": "g gm gms gram grams gramme grammes",
    "kg": "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes",
    "oz": "oz ozs ounce ounces",
    "lb": "lb lbs pound pounds",
    "ml": "ml mls cc millilitre millilitres milliliter milliliters",
    "l": "l ltr litre litres liter liters",
    "tsp": "tsp tsps teaspoon teaspoons teaspoonful teaspoonfuls",
    "tbsp": "tbsp tbsps tbs tblsp tablespoon tablespoons tablespoonful tablespoonfuls",
    "cup": "cup cups cupful cupfuls",
    "fl_oz": "fl_oz floz fl_ozs fluid_oz fluid_ounce fluid_ounces fl_ounce fl_ounces",
    "drop": "drop drops",
    "spray": "spray sprays spritz spritzes",
    "pinch": "pinch pinches",
    "%": "% percent per_cent pct",
    "part": "part parts",
}
_UNIT_OF = {word: unit for unit, words in _SPELLINGS.items() for word in words.split()}
_HABIT_OF = {
    "spooned": "spooned", "level": "spooned", "scooped": "scooped", "packed": "packed", "sieved": "sieved",
    "sifted": "sieved",
}  # fmt: skip
_CONSISTENCY = {"to consistency", "to_consistency", "until it holds"}
_PLURAL = {"drop": "drops", "spray": "sprays", "part": "parts"}

_ROUGH_G: dict[str, int | Fraction] = {
    "g": 1, "kg": 1000, "oz": 28, "lb": 450, "ml": 1, "l": 1000, "tsp": 5, "tbsp": 15, "cup": 250, "fl_oz": 30,
    "drop": Fraction(1, 30), "spray": Fraction(1, 8), "pinch": Fraction(1, 3), "part": 250,
}  # fmt: skip
MOST_G = 1_000_000
"""The most one line may hold, grams: a slip of the finger is likelier than a tonne."""
MOST_DIGITS = 15

_VULGAR = {c: Fraction(unicodedata.numeric(c)).limit_denominator(16) for c in "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"}
_PLAIN = str.maketrans(
    {"⁄": "/", "∕": "/", "／": "/", "−": "-", "‐": "-", "‑": "-", "–": "-", "—": "-", "％": "%", "٪": "%"}
    | dict.fromkeys("\u200b\u2060\ufeff", "")
)
_NUMBER = re.compile(
    r"(?:(?P<whole>\d+)(?:\s+|\s*-\s*|\s+and\s+|\s*&\s*))?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)"
    r"|(?P<plain>\d+(?:\.\d*)?|\.\d+)"
)
_HEAD = re.compile(r"[-+]?[\d.,/][\d.,/\s&-]*(?:and\s+\d[\d\s/]*)?")
_DIGITS = re.compile(r"\d+")


class AmountRefused(ValueError):
    """An amount that cannot be read; str() says why and what to write."""

    def __init__(self, text: str, allowed: str = ALLOWED, nearest: tuple[str, ...] = ()) -> None:
        super().__init__(text)
        self.allowed = allowed
        self.nearest = nearest


@lru_cache(maxsize=4096)
def parse_amount(text: str) -> Amount:
    """An amount read exactly; AmountRefused says what to write instead.

    Fractions stay exact ("1/3 cup" is Fraction(1, 3)). A comma is a decimal comma unless three digits follow it.
    """
    plain = _plain(text)
    if not plain:
        raise AmountRefused("The amount is empty. Write how much, for example 7.5 g or 1 1/2 cup.")
    if plain.lower() in _CONSISTENCY:
        return Amount(text, None, TO_CONSISTENCY)
    if plain.lower().lstrip("+-").startswith(("nan", "inf")):
        raise AmountRefused("This is not a number anyone can measure. Write a plain number, for example 7.5 g.")
    if plain.startswith("-"):
        raise AmountRefused("An amount below zero cannot be measured.", "a number above 0")
    if re.match(r"[-+]?[\d.,]+[eE][-+]?\d", plain):
        raise AmountRefused("Write the number out in full, without e.")
    match = _HEAD.match(plain)
    if match is None:
        raise AmountRefused("The amount must start with a number. Write how much, for example 7.5 g or 1/2 tsp.")
    number = parse_number(match[0].strip())
    unit, habit = _unit_and_habit(plain[match.end() :].strip())
    if unit == "%":
        if number > 100:
            raise AmountRefused("More than 100 percent of the mix cannot be one thing.", "above 0 and at most 100 %")
    elif number * _ROUGH_G[unit] > MOST_G:
        raise AmountRefused("That is more than 1,000 kg on one line. Check the number and the unit.", "up to 1,000 kg")
    return Amount(text, number, unit, habit)


def parse_number(text: str) -> Fraction:
    """A positive number written any usual way, exactly: "1 1/2", "1½", "1-1/2", "½", "1.5", "1,5"."""
    plain = _plain(text)
    if plain.startswith("-"):
        raise AmountRefused("An amount below zero cannot be measured.", "a number above 0")
    if any(len(run) > MOST_DIGITS for run in _DIGITS.findall(plain)):
        raise AmountRefused(f"The number has too many digits; {MOST_DIGITS} are plenty for any scale.")
    number = _NUMBER.fullmatch(_decimal_point(plain))
    if number is None:
        raise AmountRefused(_why_not(plain), "one number: 2, 1.5, 1 1/2, 1½ or 1/2")
    if number["plain"] is not None:
        value = Fraction(number["plain"])
    else:
        top, bottom = int(number["top"]), int(number["bottom"])
        if bottom == 0:
            raise AmountRefused("A fraction cannot have 0 below the line.", "a fraction such as 1/2")
        if number["whole"] is not None and top >= bottom:
            raise AmountRefused(
                "After a whole number the fraction must be smaller than one; write 1 1/2 or 3/2.",
                "a fraction such as 1 1/2",
            )
        value = int(number["whole"] or 0) + Fraction(top, bottom)
    if value == 0:
        raise AmountRefused("The amount is zero. Remove the line, or write how much.", "a number above 0")
    return value


def format_amount(amount: Amount) -> str:
    """The amount in canonical form: "1 1/2 cup", "7.5 g", "9 drops", "1 cup packed", "to consistency"."""
    if amount.number is None:
        return "to consistency"
    decimal = amount.unit in (*WEIGHED, "ml", "l", "%")
    unit = _PLURAL.get(amount.unit, amount.unit) if amount.number > 1 else amount.unit
    return " ".join(filter(None, (format_number(amount.number, decimal=decimal), unit, amount.habit)))


def format_number(number: Fraction, *, decimal: bool) -> str:
    """A number exactly: as a decimal where asked and it ends within six places, else as a whole and a fraction."""
    whole, rest = divmod(number.numerator, number.denominator)
    if rest == 0:
        return str(whole)
    places = number * 10**6
    if decimal and places.denominator == 1:
        return f"{whole}.{places.numerator - whole * 10**6:06d}".rstrip("0")
    return (f"{whole} " if whole else "") + f"{rest}/{number.denominator}"


def _plain(text: str) -> str:
    """Text with every kind of space, slash, hyphen and ready-made fraction turned into the plain one."""
    if text.isascii():
        return " ".join(text.split())
    plain = []
    for c in text.translate(_PLAIN):
        if (fraction := _VULGAR.get(c)) is not None:
            c = f" {fraction.numerator}/{fraction.denominator} "
        elif c.isdecimal():
            c = str(unicodedata.decimal(c))
        plain.append(c)
    return " ".join("".join(plain).split())


def _decimal_point(text: str) -> str:
    """Text with a decimal comma turned into a point; refused when the comma may mean thousands."""
    if "," not in text:
        return text
    whole, _, tail = text.partition(",")
    if "." in text or "," in tail or (len(tail) == 3 and tail.isdigit() and whole.strip("0")):
        raise AmountRefused(
            f"The comma may mean a decimal or thousands. Write {text.replace(',', '.', 1)} or {text.replace(',', '')}.",
            "a number without a thousands mark",
        )
    return f"{whole}.{tail}"


def _why_not(text: str) -> str:
    if re.search(r"\d\s*-\s*\d", text):
        return "This reads as a range. Write the one amount you measure."
    if re.search(r"\d\s+\d", text):
        return "This reads as two numbers. Write one, without a space inside, for example 1500 or 1 1/2."
    return "This is not a number that can be read. Write 2, 1.5, 1 1/2 or 1/2."


def _unit_and_habit(tail: str) -> tuple[str, str | None]:
    words = re.sub(r"[(),.;]", " ", tail).replace("_", " ").split()
    if not words:
        raise AmountRefused("The unit is missing. Write it after the number, for example 7.5 g or 9 drops.")
    habit: str | None = None
    for place in (0, -1):
        if len(words) > 1 and (word := words[place].lower()) in _HABIT_OF:
            if habit is not None:
                raise AmountRefused("Two ways of filling are named. Keep one: spooned, scooped, packed or sieved.")
            habit = _HABIT_OF[word]
            words.pop(place)
    lower = "_".join(words).lower()
    if lower == "t":
        raise AmountRefused("T may mean tablespoon or teaspoon. Write tbsp or tsp.", nearest=("tbsp", "tsp"))
    if lower in ("gr", "grs"):
        raise AmountRefused("gr may mean grams or grains. Write g for grams.", nearest=("g",))
    if words[0].lower() in ("heaped", "heaping", "rounded", "scant", "generous"):
        raise AmountRefused(f"A {words[0].lower()} measure differs from hand to hand. Level it off, or weigh it.")
    unit = _UNIT_OF.get(lower)
    if unit is None:
        raise AmountRefused(_unknown_unit(lower, words), nearest=_nearest_unit(lower))
    if habit is not None and unit not in FILLED:
        raise AmountRefused(
            f'"{habit}" goes with a cup or a spoon, not with {unit}. Leave it out.', "a habit after tsp, tbsp or cup"
        )
    return unit, habit


def _unknown_unit(lower: str, words: list[str]) -> str:
    said = " ".join(words)[:30]
    if lower in ("mg", "milligram", "milligrams"):
        return "Milligrams are not used here. Write grams: 50 mg is 0.05 g."
    if _UNIT_OF.get(words[0].lower()) and len(words) > 1:
        return f'Only a unit and a filling habit may follow the number; "{said}" says more. What it is goes in use.'
    return f'"{said}" is no unit known here.'


def _nearest_unit(lower: str) -> tuple[str, ...]:
    from difflib import get_close_matches

    return tuple(dict.fromkeys(_UNIT_OF[word] for word in get_close_matches(lower, _UNIT_OF, n=3, cutoff=0.6)))
