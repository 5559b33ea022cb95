"""Documents the tests of this room share, and a strategy for any good one. Quillmoor's, of course."""

from fractions import Fraction

from hypothesis import strategies as st

from fizzwright.recipe.amounts import format_amount
from fizzwright.recipe.model import AUDIENCES, HABITS, MARKETS, SYSTEMS, Amount

ORCHARD = """\
# Orchard Rain, the house classic
name = "Orchard Rain"
kind = "fizzer"                 # the plain kind
audience = "adult"
sold_in = ["us", "eu"]
measures = "us"
made_on = 2026-11-25
[makes]
mould = "sphere_65"
count = 4
[tub]
litres = 150
temperature_c = 38
water = "moderately_hard"
[[line]]
use = "sodium_bicarbonate"
amount = "1 1/2 cup"
[[line]]
use = "citric_acid"
amount = "3/4 cup"
[[line]]
use = "coconut_oil"
amount = "1 tbsp"
[[line]]
use = "sweet_orange"
amount = "9 drops"              # after the fat has cooled
lot = "SO-2411-02"
in = "coconut_oil"
"""
DRY = ("sodium_bicarbonate", "citric_acid", "corn_starch", "epsom_salt", "kaolin", "sea_salt")
POURED = ("coconut_oil", "jojoba_oil", "sweet_orange", "lavender", "polysorbate_80", "water")


def amounts(units: tuple[str, ...]) -> st.SearchStrategy[str]:
    """Amounts in those units, some with a filling habit."""
    numbers = st.fractions(min_value=Fraction(1, 64), max_value=40, max_denominator=64)
    habits = st.sampled_from((None, *HABITS))

    def text(number: Fraction, unit: str, habit: str | None) -> str:
        return format_amount(Amount("", number, unit, habit if unit in ("cup", "tbsp", "tsp") else None))

    return st.builds(text, numbers, st.sampled_from(units), habits)


def lines() -> st.SearchStrategy[list[tuple[str, str]]]:
    """A few lines, each use once."""
    dry = st.tuples(st.sampled_from(DRY), amounts(("g", "kg", "oz", "lb", "cup", "tbsp", "tsp", "pinch", "ml")))
    poured = st.tuples(st.sampled_from(POURED), amounts(("g", "oz", "ml", "tbsp", "tsp", "fl_oz", "drop", "spray")))
    return st.lists(st.one_of(dry, poured), min_size=1, max_size=8, unique_by=lambda pair: pair[0])


@st.composite
def documents(draw: st.DrawFn) -> str:
    """A good document, its keys in any order, with comments and blank rows strewn in."""
    comment = st.sampled_from(("", "", "", "  # as the helper likes it", " # ½ = half", "#"))
    between = st.sampled_from(("", "", "", "\n", "# a remark\n", "\n# a remark\n\n# another\n"))

    def shuffled(pairs: list[str]) -> str:
        order = draw(st.permutations(pairs))
        return "".join(draw(between) + pair + draw(comment) + "\n" for pair in order)

    name = draw(st.sampled_from(("Orchard Rain", "Stillwater Clay", "مطر", "Two Tides 🌊", "Drift # 2")))
    head = [f'name = "{name}"', 'kind = "fizzer"']
    head += draw(
        st.lists(
            st.sampled_from(
                [
                    f'audience = "{draw(st.sampled_from(AUDIENCES))}"',
                    f'measures = "{draw(st.sampled_from(SYSTEMS))}"',
                    f'sold_in = [\n  "{draw(st.sampled_from(MARKETS))}",  # where\n]',
                    "made_on = 2026-11-25",
                ]
            ),
            unique=True,
        )
    )
    sections = ["[makes]\n" + shuffled(['mould = "sphere_65"', "count = 4"])]
    water = draw(st.sampled_from(('water = "hard"', "water = { ph = 7.6, alkalinity_mmol_l = 1.9 }")))
    sections.append("[tub]" + draw(comment) + "\n" + shuffled(["litres = 150", "temperature_c = 38.5", water]))
    body = [
        "[[line]]\n" + shuffled([f'use = "{use}"', f'amount = "{amount}"', 'lot = "QM-2611-01"'])
        for use, amount in draw(lines())
    ]
    kept = draw(st.lists(st.sampled_from(sections), unique=True))
    return draw(between) + shuffled(head) + "".join(draw(between) + part for part in [*kept, *body]) + draw(between)
