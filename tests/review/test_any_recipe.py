"""Whatever a maker writes that can be read is reviewed, or refused in words: never a traceback, never a figure astray."""

import json
import math
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import load
from fizzwright.recipe.amounts import AmountRefused
from fizzwright.recipe.document import read_text
from fizzwright.recipe.model import AUDIENCES, KINDS, MARKETS, SYSTEMS
from fizzwright.refusal import Refusal
from fizzwright.review import review

CATALOGUE = load()
USABLE = sorted([*CATALOGUE.materials, *CATALOGUE.oils, *CATALOGUE.constituents])
UNITS = ["g", "kg", "oz", "lb", "ml", "l", "tsp", "tbsp", "cup", "fl_oz", "drops", "sprays", "pinch", "%", "parts"]
NUMBERS = st.sampled_from(["1/8", "1/2", "1", "1 1/2", "3", "7.25", "12", "40", "0.001"])
AMOUNTS = st.one_of(st.builds(lambda n, u: f"{n} {u}", NUMBERS, st.sampled_from(UNITS)), st.just("to consistency"))
LINES = st.lists(st.tuples(st.sampled_from(USABLE), AMOUNTS), min_size=1, max_size=12, unique_by=lambda line: line[0])


@st.composite
def documents(draw: st.DrawFn) -> str:
    kind = draw(st.sampled_from(KINDS))
    parts = ["shell", "core"] if kind == "cored" else ["layer_1", "layer_2"] if kind == "layered" else None
    mould = draw(st.one_of(st.none(), st.sampled_from(sorted(CATALOGUE.moulds))))
    count = draw(st.one_of(st.none(), st.integers(1, 500)))
    head = [
        f'name = "Any"\nkind = "{kind}"',
        f'audience = "{draw(st.sampled_from(AUDIENCES))}"',
        f"sold_in = {json.dumps(draw(st.lists(st.sampled_from(MARKETS), unique=True)))}",
        f'measures = "{draw(st.sampled_from(SYSTEMS))}"',
        f"made_on = {draw(st.dates(min_value=date(2000, 1, 1)))}",
    ]
    if mould:
        head.append(f'[makes]\nmould = "{mould}"' + (f"\ncount = {count}" if count else ""))
    for use, amount in draw(LINES):
        part = f'\npart = "{draw(st.sampled_from(parts))}"' if parts else ""
        head.append(f'[[line]]\nuse = "{use}"\namount = "{amount}"{part}')
    return "\n".join(head)


@given(documents())
def test_any_recipe_is_reviewed_or_refused(text):
    try:
        report = review(read_text(text, CATALOGUE), CATALOGUE)
    except Refusal as refusal:
        assert len(str(refusal)) > 20
        return
    json.dumps(report.as_dict(), allow_nan=False)
    for section in report.sections:
        ids = [figure.id for figure in section.figures]
        assert len(ids) == len(set(ids)), section.id
        for figure in section.figures:
            if not isinstance(figure.value, str):
                assert math.isfinite(figure.value), figure.id
                assert figure.low - 1e-9 * abs(figure.low) <= figure.value <= figure.high + 1e-9 * abs(figure.high), (
                    figure
                )
        for notice in section.notices:
            assert notice.text.strip() and "nan" not in notice.text.split()


@given(documents(), st.sampled_from([Fraction(1, 2), 2, 3]))
def test_scaling_every_weight_leaves_the_shares(text, factor):
    """Doubling a batch doubles its weight and leaves its percentages, whatever is in it."""
    from fizzwright.recipe.scaling import scaled
    from fizzwright.recipe.weigh import weigh

    try:
        before = weigh(read_text(text, CATALOGUE), CATALOGUE)
        after = weigh(read_text(scaled(text, factor), CATALOGUE), CATALOGUE)
    except (Refusal, AmountRefused):
        return
    share = before.grams / before.grams.sum()
    assert after.grams / after.grams.sum() == pytest.approx(share, rel=1e-6, abs=1e-12)
