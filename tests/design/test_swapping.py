"""Exchanging materials: hand-worked swaps against molar masses from the periodictable library."""

from __future__ import annotations

from pathlib import Path

import periodictable
import pytest

from fizzwright.catalogue import load
from fizzwright.design import groups
from fizzwright.design.swapping import candidates, swap, without
from fizzwright.recipe.document import read_text
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review import review
from tests.design.everyday import of_demo, recipe

PLAIN = """
sodium_bicarbonate = 300 g
citric_acid = 100 g
corn_starch = 40 g
sweet_almond_oil = 15 g
sweet_orange = 9 drops in sweet_almond_oil
witch_hazel = 12 sprays
"""


def grams(text: str, use: str) -> float:
    mix = weigh(read_text(text, load()), load())
    return sum(m.grams for m in mix.lines if m.id == use)


def figure(text: str, section: str, name: str) -> float:
    value = review(read_text(text, load()), load()).section(section).figure(name).value
    return float(value)


@pytest.mark.parametrize(
    ("old", "new", "formulas", "equivalents"),
    [
        ("citric_acid", "tartaric_acid", ("C6H8O7", "C4H6O6"), (3, 2)),
        ("citric_acid", "malic_acid", ("C6H8O7", "C4H6O5"), (3, 2)),
        ("citric_acid", "cream_of_tartar", ("C6H8O7", "KC4H5O6"), (3, 1)),
        ("sodium_bicarbonate", "potassium_bicarbonate", ("NaHCO3", "KHCO3"), (1, 1)),
        ("sodium_bicarbonate", "sodium_carbonate", ("NaHCO3", "Na2CO3"), (1, 2)),
    ],
)
def test_acids_and_bases_keep_their_equivalents(
    old: str, new: str, formulas: tuple[str, str], equivalents: tuple[int, int]
) -> None:
    # grams of one equivalent = molar mass / equivalents: citric 192.12 / 3 = 64.04, tartaric 150.09 / 2 = 75.04
    per_eq = [periodictable.formula(f).mass / n for f, n in zip(formulas, equivalents, strict=True)]
    before = recipe(PLAIN)
    changed = swap(before, load(), None, old, new)
    assert grams(changed.text, new) == pytest.approx(grams(before.text, old) * per_eq[1] / per_eq[0], abs=0.51)
    assert figure(changed.text, "fizz", "acid_to_base_eq") == pytest.approx(
        figure(before.text, "fizz", "acid_to_base_eq"), rel=0.01
    )
    assert "acid to base" in changed.kept and grams(changed.text, old) == 0


def test_washing_soda_brings_half_the_gas_and_it_is_said() -> None:
    # Na2CO3 frees one CO2 for two base equivalents, NaHCO3 one for one
    changed = swap(recipe(PLAIN), load(), None, "sodium_bicarbonate", "sodium_carbonate")
    assert any("50 % of the gas" in note for note in changed.notes)


def test_the_carrier_of_the_scent_hands_it_on() -> None:
    changed = swap(recipe(PLAIN), load(), None, "sweet_almond_oil", "jojoba_oil")
    after = read_text(changed.text, load())
    assert [line.diluted_in for line in after.lines if line.use == "sweet_orange"] == ["jojoba_oil"]
    assert grams(changed.text, "jojoba_oil") == pytest.approx(15.0, abs=0.2)


def test_what_is_in_already_is_added_to_its_line() -> None:
    both = recipe(PLAIN + "cream_of_tartar = 10 g\n")
    changed = swap(both, load(), None, "citric_acid", "cream_of_tartar")
    lines = [line.use for line in read_text(changed.text, load()).lines]
    assert lines.count("cream_of_tartar") == 1 and "citric_acid" not in lines
    # 100 g x (188.18 / 1) / (192.12 / 3) + 10 g
    assert grams(changed.text, "cream_of_tartar") == pytest.approx(303.8, abs=1.0)
    assert any("dissolves slowly" in note for note in changed.notes)


def test_a_binder_binds_as_much_as_the_old_one() -> None:
    # strong alcohol binds less a gram than water (it is thinner, and part of it flies off before the squeeze)
    changed = swap(recipe(PLAIN), load(), None, "witch_hazel", "isopropyl_alcohol_91")
    assert grams(changed.text, "isopropyl_alcohol_91") > 1.5 * grams(PLAIN_TEXT, "witch_hazel")
    back = swap(read_text(changed.text, load()), load(), None, "isopropyl_alcohol_91", "witch_hazel")
    assert grams(back.text, "witch_hazel") == pytest.approx(grams(PLAIN_TEXT, "witch_hazel"), rel=0.1)


PLAIN_TEXT = recipe(PLAIN).text


@pytest.mark.parametrize("group", list(groups.GROUPS))
def test_nothing_of_a_group_is_left(group: str, tmp_path: Path) -> None:
    everything = recipe(PLAIN + "beeswax = 5 g\nsodium_lauryl_sulfate = 3 g\n")
    _, catalogue, workshop = of_demo(tmp_path, "orchard_rain")
    changed = without(everything, catalogue, workshop, group)
    after = read_text(changed.text, catalogue)
    assert not {line.use for line in after.lines} & groups.members(group, catalogue).keys()
    assert len(after.lines) == len(everything.lines) and changed.is_changed


def test_stock_comes_first_and_too_little_of_it_is_said(tmp_path: Path) -> None:
    before, catalogue, workshop = of_demo(tmp_path, "orchard_rain")
    oily = recipe(PLAIN, catalogue=catalogue)
    new = {line.use for line in read_text(without(oily, catalogue, workshop, "nuts").text, catalogue).lines}
    assert new & {"sunflower_oil", "olive_oil", "fractionated_coconut_oil", "avocado_oil", "jojoba_oil"}
    told = " ".join(without(before, catalogue, workshop, "citric_acid").notes)
    assert "cream of tartar" in told and "285 g on hand" in told


def test_what_cannot_be_told_is_asked(tmp_path: Path) -> None:
    before, catalogue, workshop = of_demo(tmp_path, "orchard_rain")
    changed = without(before, catalogue, workshop, "vegan")
    assert not changed.is_changed and any("ask the supplier" in note for note in changed.notes)


def test_a_spoon_stays_a_spoon_where_one_comes_near() -> None:
    spooned = recipe("sodium_bicarbonate = 1 cup\ncitric_acid = 1/2 cup\ncorn_starch = 1/4 cup\n")
    changed = swap(spooned, load(), None, "corn_starch", "arrowroot")
    assert "g" not in next(r.after for r in changed.rows if r.use == "arrowroot")


def test_the_nearest_comes_before_the_far() -> None:
    catalogue = load()
    mix = weigh(recipe(PLAIN), catalogue)
    line = next(m for m in mix.lines if m.id == "citric_acid")
    names = [c.material.id for c in candidates(mix, line, catalogue, None, {"citric_acid_monohydrate"})]
    # fast and soluble like citric acid before the slow ones (common practice, no source)
    assert names.index("tartaric_acid") < names.index("cream_of_tartar") < len(names)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("shea_butter", "kokum_butter", "does not hold it"),
        ("citric_acid", "corn_starch", "cannot do the work"),
        ("citric_acid", "citrc_acid", "Nearest"),
        ("citric_acid", "citric_acid", "two different"),
        ("sodium_bicarbonate", "borax", "cannot tell how much base"),
        ("sweet_orange", None, "name the oil"),
    ],
)
def test_what_cannot_be_done_is_refused_with_what_can(old: str, new: str | None, says: str) -> None:
    with pytest.raises(Refusal, match=says):
        swap(recipe(PLAIN), load(), None, old, new)
