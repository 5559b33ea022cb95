"""Pieces, moulds and leftovers against handbook volumes, trade figures and sums done by hand."""

import math

import pytest

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.weigh import weigh
from fizzwright.review import mix as mix_section
from fizzwright.review import mould
from fizzwright.review.setting import Setting

KITCHEN = (
    ("sodium_bicarbonate", "3/4 cup"),
    ("citric_acid", "3/8 cup"),
    ("corn_starch", "1/8 cup"),
    ("sweet_almond_oil", "1 tbsp"),
    ("witch_hazel", "1 tsp"),
)


def mix_of(
    catalogue: Catalogue, *lines: tuple[str, str], makes: str = 'mould = "sphere_65"', kind: str = "fizzer"
) -> Mix:
    body = "".join(f'\n[[line]]\nuse = "{use}"\namount = "{amount}"\n' for use, amount in lines)
    return weigh(read_text(f'name = "Test"\nkind = "{kind}"\n[makes]\n{makes}\n{body}', catalogue), catalogue)


# Common practice, no source: a 65 mm piece weighs 110-160 g, and about a cup and a quarter of dry mix fills two 65 mm
# spheres with some over.
def test_a_cup_and_a_quarter_of_dry_mix_fills_two_65_mm_spheres(catalogue):
    section = mould.section(mix_of(catalogue, *KITCHEN), catalogue, Setting())
    piece = section.figure("piece_g")
    assert 120 <= piece.value <= 155
    assert 110 <= piece.low < piece.high <= 170
    assert section.figure("pieces").value == 2
    assert 0 <= section.figure("leftover_g").value < 30


# Volume of a sphere, 4/3 pi r^3 (Bronstein, Handbook of Mathematics).
def test_the_mould_holds_what_the_handbook_says(catalogue):
    section = mould.section(mix_of(catalogue, *KITCHEN), catalogue, Setting())
    assert section.figure("volume_ml").value == pytest.approx(4 / 3 * math.pi * 32.5**3 / 1000, rel=1e-12)


# Worked by hand: solids 300/2.2 + 150/1.665 = 226.45 ml without pores, 450 g; solid fraction 0.44 -> 514.67 ml of piece;
# with 20 g of oil 470 g / 514.67 ml = 0.91321 g/ml; x 143.79 ml = 131.31 g.
def test_piece_worked_by_hand(catalogue):
    lines = (("sodium_bicarbonate", "300 g"), ("citric_acid", "150 g"), ("sweet_almond_oil", "20 g"))
    section = mould.section(mix_of(catalogue, *lines), catalogue, Setting())
    assert section.figure("packed_density_g_ml").value == pytest.approx(0.91321, rel=1e-3)
    assert section.figure("piece_g").value == pytest.approx(131.31, rel=1e-3)
    assert section.figure("pieces").value == 3
    assert section.figure("leftover_g").value == pytest.approx(470 - 3 * 131.31, rel=1e-2)


def test_leftover_options_add_up(catalogue):
    mix = mix_of(catalogue, ("sodium_bicarbonate", "300 g"), ("citric_acid", "150 g"), ("sweet_almond_oil", "30 g"))
    section = mould.section(mix, catalogue, Setting())
    left, piece = section.figure("leftover_g").value, section.figure("piece_g").value
    # by hand: room missing x 0.44 x 1.478 g/ml (corn starch)
    room_ml = (1 - left / piece) * section.figure("volume_ml").value
    assert section.figure("filler_to_whole_g").value == pytest.approx(room_ml * 0.44 * 1.478)
    assert section.figure("half_pieces").value == math.floor(left / (piece / 2))
    baths = section.figure("jar_baths").value
    assert baths * section.figure("jar_dose_g").value == pytest.approx(left)
    assert "corn starch" in section.figure("filler_to_whole_g").text.lower()


def test_a_count_that_the_mix_cannot_fill_is_told(catalogue):
    mix = mix_of(catalogue, *KITCHEN, makes='mould = "sphere_65"\ncount = 6')
    section = mould.section(mix, catalogue, Setting())
    assert section.figure("pieces").value == 2
    assert section.figure("leftover_g").value < 0
    assert any("of the 6 pieces asked for" in n.text for n in section.notices)


def test_moulds_known_by_weight_and_powders_need_no_volume(catalogue):
    weight = mould.section(mix_of(catalogue, *KITCHEN, makes='mould = "standard"'), catalogue, Setting())
    assert weight.figure("piece_g").value == catalogue.moulds["standard"].piece_g_typ
    powder = mould.section(mix_of(catalogue, *KITCHEN, makes="", kind="powder"), catalogue, Setting())
    assert powder.figure("piece_g").value == 100
    assert "bath" in powder.figure("pieces").text


def test_every_mould_of_the_catalogue_gives_a_piece(catalogue):
    for mould_id in catalogue.moulds:
        section = mould.section(mix_of(catalogue, *KITCHEN, makes=f'mould = "{mould_id}"'), catalogue, Setting())
        assert 1 < section.figure("piece_g").value < 1000, mould_id


# Worked by hand: 70 % isopropyl alcohol is all volatile (alcohol and free water), so 10 g of it leave 10 g lighter.
def test_curing_loses_alcohol_and_free_water(catalogue):
    mix = mix_of(catalogue, ("sodium_bicarbonate", "200 g"), ("citric_acid", "100 g"), ("isopropyl_alcohol_70", "10 g"))
    section = mix_section.section(mix, catalogue, Setting())
    assert section.figure("total_g").value == pytest.approx(310)
    assert section.figure("cured_g").value == pytest.approx(300, abs=0.2)


def test_shares_add_up_to_the_whole(catalogue):
    section = mix_section.section(mix_of(catalogue, *KITCHEN), catalogue, Setting())
    shares = [f.value for f in section.figures if f.id.startswith("share_pct.")]
    assert sum(shares) == pytest.approx(100)
    assert section.figure("oil_total_pct").value == pytest.approx(section.figure("share_pct.sweet_almond_oil").value)


def test_a_dry_mix_is_told_that_it_will_not_hold(catalogue):
    section = mix_section.section(mix_of(catalogue, *KITCHEN[:3]), catalogue, Setting())
    assert any("will not hold" in n.text for n in section.notices)


def test_scent_alone_does_not_wet_the_powder(catalogue):
    mix = mix_of(catalogue, *KITCHEN[:3], ("lavender", "15 drops"))
    section = mix_section.section(mix, catalogue, Setting())
    assert any("wets the powder" in n.text for n in section.notices)


def test_a_mix_for_many_more_than_asked_is_told(catalogue):
    lines = (("sodium_bicarbonate", "900 g"), ("citric_acid", "450 g"), ("sweet_almond_oil", "60 g"))
    section = mould.section(mix_of(catalogue, *lines, makes='mould = "sphere_65"\ncount = 2'), catalogue, Setting())
    more = int(section.figure("leftover_g").value // section.figure("piece_g").value)
    assert more >= 7
    assert any(f"enough for {more} more" in n.text for n in section.notices)
    assert section.figure("half_pieces").value in (0, 1)
