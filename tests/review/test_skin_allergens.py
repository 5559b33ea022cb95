"""Label names over the threshold: both readings, both lists, and their dates."""

from __future__ import annotations

from datetime import date

import pytest

from fizzwright.catalogue import Catalogue
from fizzwright.review.figures import Notice, Section
from tests.review.skin_mixes import mixed, on_skin

DRY = [("sodium_bicarbonate", 199.0), ("citric_acid", 100.0)]


def label_notice(section: Section) -> Notice:
    (notice,) = (n for n in section.notices if "No official text" in n.reason)
    return notice


def names(section: Section) -> dict[str, float]:
    return {f.id: float(f.high_allowed or 0) for f in section.figures if f.id.startswith("allergen.")}


def test_citral_over_and_under_the_threshold(catalogue: Catalogue) -> None:
    # Regulation (EC) 1223/2009, annex III entry 70: named over 0.01 % in rinse-off, 0.001 % in leave-on products.
    # Typical citral of lemongrass c %: g grams in 300 g of piece give g x c / 300 percent.
    parts = {row.constituent: row.typical_pct or 0 for row in catalogue.oils["lemongrass"].constituents}
    citral = parts["geranial"] + parts["neral"]
    edge = 0.01 * 300 / citral
    for grams, named in ((edge * 0.97, False), (edge * 1.03, True)):
        section = on_skin(
            catalogue, mixed(catalogue, [*DRY, ("olive_oil", 1 - grams), ("lemongrass", grams)], sold_in=("eu",))
        )
        assert (float(section.figure("allergen.citral").value) > 0.01) is named
        assert ("Citral" in label_notice(section).text.split("Perhaps")[0]) is named


def test_the_leave_on_reading_is_ten_times_stricter(catalogue: Catalogue) -> None:
    mix = mixed(catalogue, [*DRY, ("olive_oil", 5.0), ("lavender", 0.1)], sold_in=("eu",))
    rinse, leave = on_skin(catalogue, mix), on_skin(catalogue, mix, leave_on=True)
    assert names(rinse).keys() < names(leave).keys()
    assert set(names(rinse).values()) == {0.01} and set(names(leave).values()) == {0.001}
    for section in (rinse, leave):
        assert "0.01 %" in label_notice(section).reason and "0.001 %" in label_notice(section).reason


def test_the_longer_list_starts_on_its_date(catalogue: Catalogue) -> None:
    # Regulation (EU) 2023/1545: new products from 1 August 2026, all by 1 August 2028.
    lines = [*DRY, ("olive_oil", 5.0), ("lavender", 1.0)]
    before = label_notice(on_skin(catalogue, mixed(catalogue, lines, sold_in=("eu",), as_of=date(2026, 7, 31))))
    after = label_notice(on_skin(catalogue, mixed(catalogue, lines, sold_in=("eu",), as_of=date(2026, 8, 1))))
    assert "Linalyl Acetate" not in before.text and "Linalyl Acetate" in before.reason
    assert "Linalyl Acetate" in after.text.split("Perhaps")[0]
    assert "2028-08-01" in after.reason
    assert "Linalool" in before.text and "Linalool" in after.text


def test_great_britain_asks_for_the_first_list_only(catalogue: Catalogue) -> None:
    lines = [*DRY, ("olive_oil", 5.0), ("lavender", 1.0)]
    notice = label_notice(on_skin(catalogue, mixed(catalogue, lines, sold_in=("uk",))))
    assert "Linalool" in notice.text and "Linalyl Acetate" not in notice.text
    assert "Linalyl Acetate" in notice.reason.split("longer list")[1]


@pytest.mark.parametrize(
    ("sold_in", "level"),
    [((), "good"), (("us",), "good"), (("eu",), "mind"), (("us", "uk"), "mind"), (("ca",), "mind")],
)
def test_names_are_asked_for_only_where_they_are_law(
    catalogue: Catalogue, sold_in: tuple[str, ...], level: str
) -> None:
    mix = mixed(catalogue, [*DRY, ("olive_oil", 5.0), ("lavender", 1.0)], sold_in=sold_in)
    assert label_notice(on_skin(catalogue, mix)).level == level


def test_canada_asks_from_its_own_date(catalogue: Catalogue) -> None:
    # Cosmetic Regulations s.21.4(4), in force 12 April 2026; the newer names follow the EU's dates (s.21.4(5)).
    lines = [*DRY, ("olive_oil", 5.0), ("lavender", 1.0)]
    days = {day: mixed(catalogue, lines, sold_in=("ca",), as_of=day) for day in (date(2026, 4, 11), date(2026, 4, 12))}
    before, after = (label_notice(on_skin(catalogue, mix)) for mix in days.values())
    assert (before.level, after.level) == ("good", "mind")
    assert "Linalool" in after.text and "Linalyl Acetate" in after.reason.split("longer list")[1]
    assert "ca_crc869" in after.sources
