"""The bill of a batch: against sums done by hand with decimal numbers, and against what must hold for any bill."""

from __future__ import annotations

from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pytest

from fizzwright.catalogue import load
from fizzwright.catalogue.workshop import Price, Rates, Workshop, Wrap
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.weigh import weigh
from fizzwright.review.cost import section
from fizzwright.review.figures import Section
from fizzwright.review.setting import Setting

TWO_PIECES = """
name = "Bench test"
kind = "fizzer"
[makes]
mould = "sphere_65"
count = 2
[[line]]
use = "sodium_bicarbonate"
amount = "190 g"
[[line]]
use = "citric_acid"
amount = "100 g"
[[line]]
use = "olive_oil"
amount = "10 g"
"""
WORKSHOP = Workshop(
    name="Bench",
    folder=Path(),
    currency="GBP",
    currency_digits=2,
    rates=Rates(
        labour_minor_per_hour=1200,
        minutes_per_batch=20,
        minutes_per_piece=5,
        loss_pct=5,
        overhead_minor_per_batch=150,
        margin_pct=40,
        fixed_minor_per_month=9000,
    ),
    prices=(
        Price("sodium_bicarbonate", "Saltmarket Dry Goods", 5, "kg", 1490),
        Price("citric_acid", "Saltmarket Dry Goods", 500, "g", 399),
        Price("olive_oil", "Greenbank Oils", 1, "l", 980),
    ),
    wraps=(Wrap("film", 4.5), Wrap("label sheet", 40, "batch")),
)


def mixed(text: str = TWO_PIECES) -> Mix:
    catalogue = load()
    return weigh(read_text(text, catalogue), catalogue)


def bill(workshop: Workshop | None = WORKSHOP, text: str = TWO_PIECES) -> Section:
    return section(mixed(text), load(), Setting(workshop))


def number(value: float | str | None) -> float:
    assert isinstance(value, int | float)
    return value


def whole(minor: Decimal) -> int:
    return int(minor.quantize(Decimal(1), ROUND_HALF_UP))


def test_the_bill_is_the_one_done_by_hand() -> None:
    # common practice, no source: olive oil 0.913 g/ml, as the catalogue holds it
    oil_g_ml = Decimal(str(load().materials["olive_oil"].true_density_g_ml))
    materials = Decimal(190) / 5000 * 1490 + Decimal(100) / 500 * 399 + Decimal(10) / (1000 * oil_g_ml) * 980
    losses = materials * 5 / 95
    packaging = Decimal("4.5") * 2 + 40
    labour = Decimal(20 + 2 * 5) / 60 * 1200
    batch = materials + losses + packaging + labour + 150
    got = bill()
    assert got.figure("batch").value == whole(batch)
    assert got.figure("labour").value == 600
    assert got.figure("packaging").value == 49
    assert got.figure("overhead").value == 150
    assert got.figure("piece").value == whole(batch / 2)
    price = got.figure("price_for_margin").value
    assert isinstance(price, int)
    assert price == pytest.approx(batch / 2 / Decimal("0.6"), abs=1)
    count = got.figure("break_even_pieces").value
    piece = got.figure("piece").value
    assert isinstance(count, int)
    assert isinstance(piece, int)
    # the last piece counted pays the fixed costs off, the one before it does not
    assert count * (price - piece) >= 9000 > (count - 1) * (price - piece)


def test_every_amount_is_a_whole_number_of_pence_and_the_parts_add_up() -> None:
    got = bill()
    parts = [got.figure(name).value for name in ("materials", "losses", "packaging", "labour", "overhead")]
    assert all(isinstance(part, int) for part in parts)
    assert sum(p for p in parts if isinstance(p, int)) == got.figure("batch").value
    assert got.figure("batch").unit == "GBP minor"
    assert "£" in got.figure("batch").text


def test_what_is_spooned_costs_a_range_and_what_is_weighed_hardly_any() -> None:
    spooned = bill(text=TWO_PIECES.replace('"190 g"', '"7/8 cup"').replace('"100 g"', '"1/2 cup"')).figure("batch")
    weighed = bill().figure("batch")
    assert number(spooned.low) < number(spooned.value) < number(spooned.high)
    assert number(weighed.high) - number(weighed.low) < (number(spooned.high) - number(spooned.low)) / 4


def test_a_missing_price_is_named_and_the_sum_is_called_a_part() -> None:
    partial = replace(WORKSHOP, prices=WORKSHOP.prices[:2])
    got = bill(partial)
    (notice,) = [n for n in got.notices if n.line == "olive_oil"]
    assert notice.level == "mind"
    assert "only a part" in notice.text
    assert "at least" in got.figure("batch").text
    assert number(got.figure("batch").value) < number(bill().figure("batch").value)
    assert "break_even_pieces" not in {f.id for f in got.figures}
    inputs = {i.name: i for i in got.figure("materials").working.inputs}
    assert inputs["olive oil"].value == "no cost"


def test_a_price_each_is_no_price_of_a_material() -> None:
    each = replace(WORKSHOP, prices=(*WORKSHOP.prices[:2], Price("olive_oil", "Greenbank Oils", 1, "each", 980)))
    assert any("each" in n.reason for n in bill(each).notices)


def test_a_lot_is_charged_at_its_own_price_and_short_stock_is_said() -> None:
    text = TWO_PIECES.replace('"10 g"', '"10 g"\nlot = "OL-2609-02"')
    lot = Price("olive_oil", "Greenbank Oils", 500, "g", 5000, lot="OL-2609-02", on_hand_g=4)
    got = bill(replace(WORKSHOP, prices=(*WORKSHOP.prices, lot)), text)
    inputs = {i.name: i for i in got.figure("materials").working.inputs}
    assert inputs["olive oil"].value == pytest.approx(100.0)
    assert any("4 g are left of lot OL-2609-02" in n.text for n in got.notices)
    assert not any("are left" in n.text for n in bill().notices)


def test_without_prices_one_notice_says_how_to_add_them() -> None:
    for none in (None, replace(WORKSHOP, prices=())):
        got = bill(none)
        assert not got.figures
        (notice,) = got.notices
        assert "prices.csv" in notice.reason


def test_without_rates_only_materials_and_packaging_count() -> None:
    got = bill(replace(WORKSHOP, rates=None))
    assert "price_for_margin" not in {f.id for f in got.figures}
    assert any("[rates]" in n.reason for n in got.notices)


def test_too_little_for_one_piece_has_no_price_a_piece() -> None:
    got = bill(text=TWO_PIECES.replace('"190 g"', '"19 g"').replace('"100 g"', '"10 g"'))
    assert "piece" not in {f.id for f in got.figures}
    assert any("does not fill one whole piece" in n.text for n in got.notices)


def test_a_batch_of_powder_fills_one_jar_and_is_told_by_the_bath() -> None:
    powder = (
        TWO_PIECES.replace('"fizzer"', '"powder"')
        .replace('mould = "sphere_65"\ncount = 2', "")
        .replace("[makes]", "[tub]\npowder_g = 60")
    )
    got = bill(text=powder)
    # one film of 4.5 and one sheet of 40; the odd half penny goes where the parts still add up
    assert got.figure("packaging").value in (44, 45)
    assert got.figure("labour").value == 500  # 20 + 5 minutes at 12.00 an hour
    assert "Each bath of powder" in got.figure("piece").text
    assert got.figure("piece").value == whole(Decimal(int(number(got.figure("batch").value))) / 5)  # 300 g / 60 g


def test_minis_for_one_bath_are_wrapped_together() -> None:
    minis = TWO_PIECES.replace("count = 2", "[tub]\npieces = 2")
    # two pieces, one pack: one film of 4.5 and one sheet of 40
    assert bill(text=minis).figure("packaging").value in (44, 45)


@pytest.mark.parametrize(("currency", "digits"), [("USD", 2), ("JPY", 0)])
def test_texts_speak_the_currency_of_the_workshop(currency: str, digits: int) -> None:
    got = bill(replace(WORKSHOP, currency=currency, currency_digits=digits)).figure("overhead")
    assert got.unit == f"{currency} minor"
    # 150 minor units: a dollar fifty, but a hundred and fifty yen
    assert ("$1.50" if currency == "USD" else "150") in got.text
