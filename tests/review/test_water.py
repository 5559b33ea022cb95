"""What a bath becomes, recipe to figures, against PHREEQC and sums by hand."""

from pathlib import Path

import numpy as np
import pytest

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.recipe.weigh import weigh
from fizzwright.review import dissolving, water
from fizzwright.review.figures import Curve, Figure, Notice
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import piece
from tests.science.phreeqc_blocks import Phreeqc

REPORT = "water = { alkalinity_mmol_l = 2.0, calcium_mmol_l = 0.8, magnesium_mmol_l = 0.2, ph = 7.6 }"
# charges met by hand: 2.0 - 2 x 0.8 - 2 x 0.2 = 0, so no sodium and no chloride is left to be added
JUDGED = {"ph": 7.6, "alkalinity_mmol_l": 2.0, "calcium_mmol_l": 0.8, "magnesium_mmol_l": 0.2, "sodium_mmol_l": 0.0,
          "potassium_mmol_l": 0.0, "chloride_mmol_l": 0.0, "sulfate_mmol_l": 0.0, "measured_at_c": 25.0}  # fmt: skip


def mixed(catalogue: Catalogue, tub: str, *lines: tuple[str, str], kind: str = "powder", head: str = "") -> Mix:
    body = "".join(f'\n[[line]]\nuse = "{use}"\namount = "{amount}"\n' for use, amount in lines)
    return weigh(read_text(f'name = "Test"\nkind = "{kind}"\n{head}\n[tub]\n{tub}\n{body}', catalogue), catalogue)


def look(catalogue: Catalogue, mix: Mix) -> tuple[dict[str, Figure], list[Notice], dict[str, Curve]]:
    size = piece(mix, catalogue)
    release = dissolving.release(mix, catalogue, Setting(), size)
    figures, notices, curves = water.figures(mix, catalogue, Setting(), size, release)
    return {f.id: f for f in figures}, notices, {c.id: c for c in curves}


USUAL = (("sodium_bicarbonate", "100 g"), ("citric_acid", "50 g"))


def test_a_weighed_powder_becomes_the_bath_that_phreeqc_finds(catalogue: Catalogue, tmp_path: Path) -> None:
    tub = f"litres = 150\ntemperature_c = 38\npowder_g = 150\n{REPORT}"
    figures, _, curves = look(catalogue, mixed(catalogue, tub, *USUAL))
    judge = Phreeqc(tmp_path, davies=True)
    # by hand: 100 g / 84.007 g/mol / 150 l and 50 g / 192.124 g/mol / 150 l
    dose = {"sodium_bicarbonate": 100 / 84.007 / 150, "citric_acid": 50 / 192.124 / 150}
    start, dissolved = judge.solve(JUDGED, {}, 38.0), judge.solve(JUDGED, dose, 38.0)
    settled = judge.solve(JUDGED, dose, 38.0, 8e-4)
    assert figures["ph_start"].value == pytest.approx(start.ph, abs=0.005)
    assert figures["ph_dissolved"].value == pytest.approx(dissolved.ph, abs=0.005)
    assert figures["ph_settled"].value == pytest.approx(settled.ph, abs=0.005)
    assert figures["calcite_si"].value == pytest.approx(settled.calcite_si, abs=0.01)
    assert figures["ionic_strength_mol_l"].value == pytest.approx(dissolved.ionic_strength_mol_l, rel=0.005)
    assert figures["sodium_mmol_l"].value == pytest.approx(1e3 * dose["sodium_bicarbonate"], rel=1e-4)
    # litres of damp gas at 38 C and 1 atm, as in test_fizz: 8.31446 x 311.15 / (101325 - 6633) m3 a mole
    litres = (dissolved.dic_mol_l - settled.dic_mol_l) * 150 * 8.31446 * 311.15 / 94692 * 1000
    assert figures["co2_released_l"].value == pytest.approx(litres, rel=0.005)
    assert 0 < figures["co2_in_soak_l"].value < figures["co2_released_l"].value
    assert figures["ph_dissolved"].value < figures["ph_soaked"].value < figures["ph_settled"].value
    gas = curves["co2_over_time"].lines["given off so far"]
    assert np.all(np.diff(gas) >= 0)
    # the figure takes the fizz in one go, the curve step by step
    at_end = np.interp(20.0, curves["co2_over_time"].x, gas)
    assert figures["co2_in_soak_l"].value == pytest.approx(at_end, rel=0.03)
    assert curves["ph_over_time"].lines["pH of the water"][0] == pytest.approx(start.ph, abs=0.005)


def test_every_range_holds_its_value(catalogue: Catalogue) -> None:
    for tub in (
        "",
        'water = "soft"',
        'water = "very_hard"\nlitres = 60',
        REPORT,
        "water = { alkalinity_mmol_l = 0.0 }",
    ):
        mix = mixed(catalogue, tub, ("sodium_bicarbonate", "2 cup"), ("citric_acid", "1 cup"))
        figures, _, _ = look(catalogue, mix)
        for figure in figures.values():
            assert figure.low - 1e-9 <= figure.value <= figure.high + 1e-9, (tub, figure.id)
            assert figure.sources or figure.basis == "exact"
    soft, hard = (
        look(catalogue, mixed(catalogue, f'water = "{x}"', *USUAL))[0]["alkalinity_mmol_l"].value
        for x in ("soft", "hard")
    )
    assert soft < hard


def test_litres_and_pieces_dilute_and_add_up(catalogue: Catalogue) -> None:
    head = '[makes]\nmould = "sphere_65"'
    one, two, wide = (
        mixed(catalogue, f"litres = {litres}\npieces = {pieces}\n{REPORT}", *USUAL, kind="fizzer", head=head)
        for litres, pieces in ((150, 1), (150, 2), (300, 2))
    )
    doses = [
        water.dose_of(mix, mix.grams, piece(mix, catalogue), litres)
        for mix, litres in ((one, 150), (two, 150), (wide, 300))
    ]
    for name in ("sodium_bicarbonate", "citric_acid"):
        assert doses[1][name] == pytest.approx(2 * doses[0][name])
        assert doses[2][name] == pytest.approx(doses[0][name])
    # one bath's share of the bowl: by hand from the mass of a piece
    size = piece(one, catalogue)
    assert doses[0]["citric_acid"] == pytest.approx(size.piece_g.value / 150 * 50 / 192.124 / 150, rel=1e-9)


@pytest.mark.parametrize(
    ("lines", "level", "said"),
    [
        (USUAL, "good", "skin's own surface is more acid"),
        ((("citric_acid", "400 g"), ("sodium_bicarbonate", "20 g")), "mind", "sour"),
        ((("sodium_carbonate", "300 g"), ("citric_acid", "20 g")), "mind", "alkaline"),
    ],
)
def test_the_ph_is_set_beside_the_skins(
    catalogue: Catalogue, lines: tuple[tuple[str, str], ...], level: str, said: str
) -> None:
    grams = sum(float(amount.split()[0]) for _, amount in lines)
    _, notices, _ = look(catalogue, mixed(catalogue, f"litres = 100\npowder_g = {grams}\n{REPORT}", *lines))
    told = next(n for n in notices if n.figure == "ph_dissolved")
    assert told.level == level
    assert said in told.text
    assert "4 to 6" in told.reason


def test_gas_in_a_small_shut_room_is_set_beside_the_limit(catalogue: Catalogue) -> None:
    tub = f"litres = 150\npowder_g = 150\nroom_m3 = 10\n{REPORT}"
    calm = next(n for n in look(catalogue, mixed(catalogue, tub, *USUAL))[1] if n.figure == "co2_in_soak_l")
    assert calm.level == "good"
    assert "5\u202f000 ppm" in calm.reason
    much = f"litres = 150\npowder_g = 1500\nroom_m3 = 3\n{REPORT}"
    close = next(n for n in look(catalogue, mixed(catalogue, much, *USUAL))[1] if n.figure == "co2_in_soak_l")
    assert close.level == "mind"
    assert "door" in close.text


def test_what_has_no_constants_is_said_to_be_left_out(catalogue: Catalogue) -> None:
    _, notices, _ = look(catalogue, mixed(catalogue, REPORT, *USUAL, ("monocalcium_phosphate", "10 g")))
    assert any("without monocalcium phosphate" in n.text and n.line == "monocalcium_phosphate" for n in notices)


def test_a_report_of_no_water_is_refused(catalogue: Catalogue) -> None:
    tub = "water = { alkalinity_mmol_l = 5.0, ph = 4.0 }"
    with pytest.raises(RecipeRefused, match=r"tub\.water.*read 4 with 5 mmol/l.*allowed"):
        look(catalogue, mixed(catalogue, tub, *USUAL))


def test_more_than_the_water_holds_is_said_and_not_reckoned(catalogue: Catalogue) -> None:
    figures, notices, curves = look(catalogue, mixed(catalogue, "litres = 1\npowder_g = 500", *USUAL))
    assert not figures and not curves
    assert [n.level for n in notices] == ["mind"]
    assert "would not all dissolve" in notices[0].text


def test_a_mix_of_no_known_reagent_leaves_the_water_as_it_is(catalogue: Catalogue) -> None:
    figures, _, _ = look(catalogue, mixed(catalogue, REPORT, ("corn_starch", "100 g")))
    assert figures["ph_dissolved"].value == pytest.approx(figures["ph_start"].value, abs=1e-9)
