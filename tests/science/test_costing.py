"""Money against exact decimals and a bill worked by hand."""

import math
from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.science import costing


@given(cents=st.integers(0, 10**9), thousandths=st.integers(0, 999))
def test_rounding_half_up_agrees_with_decimal(cents: int, thousandths: int) -> None:
    exact = Decimal(cents) + Decimal(thousandths) / 1000
    assert costing.whole_minor(float(exact)) == int(exact.quantize(Decimal(1), rounding=ROUND_HALF_UP))


def test_binary_dust_does_not_move_a_penny() -> None:
    # 1.005 x 100 and 0.145 x 100 fall just under the half in binary
    assert costing.whole_minor(1.005 * 100) == 101
    assert costing.whole_minor(0.145 * 100) == 15
    assert costing.whole_minor(2.5) == 3
    assert costing.whole_minor(3.5) == 4


@given(parts=st.lists(st.floats(0, 1e6), min_size=1, max_size=8))
def test_rounded_parts_add_up_to_the_rounded_sum(parts: list[float]) -> None:
    rounded = costing.whole_parts(parts)
    assert sum(rounded) == costing.whole_minor(sum(parts))
    assert all(abs(r - p) <= 1.000001 for r, p in zip(rounded, parts, strict=True))


def test_a_bill_worked_by_hand() -> None:
    # 510 g of a 5 kg bag at 1850: 188.7. 12 ml of a 100 ml bottle at 950: 114. Sum 302.7
    materials = costing.material_minor(510, 5000, 1850) + costing.material_minor(12, 100, 950)
    assert materials == pytest.approx(302.7)
    # 40 + 4 x 5 minutes at 12.00 an hour: an hour
    labour = costing.labour_minor(40, 5, 4, 1200)
    assert labour == 1200
    bill = costing.batch_costs(
        materials, 4, loss_pct=10, packaging_minor=4 * 22.5, labour_minor=labour, overhead_minor=150
    )
    # loss: 302.7 / 9 = 33.633; total 302.7 + 33.633 + 90 + 1200 + 150 = 1776.333
    assert bill.total_minor == 1776
    assert bill.piece_minor == 444
    assert (
        bill.materials_minor + bill.loss_minor + bill.packaging_minor + bill.labour_minor + bill.overhead_minor == 1776
    )
    assert (bill.materials_minor, bill.loss_minor) == (303, 33)


def test_loss_buys_what_ends_on_the_bowl() -> None:
    # of 100 g made 20 g stick: 80 g of pieces need 100 g of mix
    assert 80 + costing.loss_minor(80, 20) == pytest.approx(100)


@given(cost=st.integers(1, 100_000), margin=st.integers(0, 95))
def test_price_keeps_the_margin_of_the_selling_price(cost: int, margin: int) -> None:
    price = costing.price_for_margin(cost, margin)
    exact = (Decimal(cost) / (1 - Decimal(margin) / 100)).quantize(Decimal(1), rounding=ROUND_HALF_UP)
    assert price == int(exact)


def test_margin_of_sixty_on_two_pounds() -> None:
    assert costing.price_for_margin(200, 60) == 500
    for margin in (100, 140, -1, math.nan):
        with pytest.raises(ValueError, match="margin_pct"):
            costing.price_for_margin(200, margin)


@given(fixed=st.integers(0, 10**6), price=st.integers(1, 5000), cost=st.integers(0, 5000))
def test_break_even_is_the_first_count_that_pays(fixed: int, price: int, cost: int) -> None:
    count = costing.break_even(fixed, price, cost)
    if price <= cost:
        assert count is None
    else:
        assert count is not None
        assert count * (price - cost) >= fixed
        assert count == 0 or (count - 1) * (price - cost) < fixed


def test_no_piece_no_price_a_piece_and_nonsense_is_refused() -> None:
    assert costing.batch_costs(100, 0).piece_minor is None
    with pytest.raises(ValueError, match="pack must hold"):
        costing.material_minor(10, 0, 100)
    with pytest.raises(ValueError, match="loss_pct"):
        costing.loss_minor(10, 100)
    with pytest.raises(ValueError, match="rate an hour"):
        costing.labour_minor(1, 1, 1, math.inf)
