"""Wrapping: months by a sum done by hand, the order of the wraps, and what a mix without fizz is told."""

from __future__ import annotations

import re

import psychrolib
import pytest

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.weigh import weigh
from fizzwright.review import wrapping
from fizzwright.review.damp import danger_humidity_pct
from fizzwright.review.figures import Section
from fizzwright.review.room import Room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import piece

ROOM = Room(20.0, 50.0)


def mix_of(catalogue: Catalogue, *lines: tuple[str, float], kind: str = "fizzer") -> Mix:
    mould = '[makes]\nmould = "sphere_65"\n' if kind == "fizzer" else ""
    text = f'name = "Bench"\nkind = "{kind}"\n{mould}'
    text += "".join(f'[[line]]\nuse = "{use}"\namount = "{grams} g"\n' for use, grams in lines)
    return weigh(read_text(text, catalogue), catalogue)


PLAIN = (("sodium_bicarbonate", 400.0), ("citric_acid", 200.0))


def told(mix: Mix, catalogue: Catalogue) -> Section:
    return wrapping.told(mix, catalogue, Setting(), piece(mix, catalogue), ROOM)


def months(section: Section) -> dict[str, float]:
    found = {f.id.removeprefix("months_in."): f.value for f in section.figures if f.id.startswith("months_in.")}
    return {key: v for key, v in found.items() if isinstance(v, float)}


def test_months_in_a_polypropylene_bag_by_hand(catalogue: Catalogue) -> None:
    # 65 mm sphere, 132.7 cm2, 1.3 times as much film; 5.5 g/m2/day at 38 C, 90 %, brought to 25 C by the fact's own
    # temperature answer; saturation pressures by psychrolib, vapour from 80 % to the mix's danger humidity.
    psychrolib.SetUnitSystem(psychrolib.SI)
    mix = mix_of(catalogue, *PLAIN)
    size = piece(mix, catalogue)
    hot, cool, warm = (psychrolib.GetSatVapPres(c) for c in (38.0, 23.0, 25.0))
    at_23 = 0.2 * 0.9 * hot / (0.5 * cool)  # permeance at 23 C over that at 38 C
    steps = (1 / 298.15 - 1 / 311.15) / (1 / 296.15 - 1 / 311.15)
    per_pa = 5.5 / (0.9 * hot) * at_23**steps
    area = 1.3 * 3.14159265 * 0.065**2
    danger = danger_humidity_pct(mix, catalogue).value / 100
    piece_g = size.piece_g.value
    acid_mol = 200.0 / 192.12 * piece_g / 600.0
    co2_g = 3 * acid_mol * 44.009
    assert 3 * acid_mol < 400.0 / 84.007 * piece_g / 600.0  # the acid is what runs out
    bound, water = 0.005 * piece_g, 0.1 * co2_g / 1.29
    days = bound / (per_pa * area * warm * (0.8 - 0.75 * danger)) + water / (per_pa * area * warm * (0.8 - danger))
    assert months(told(mix, catalogue))["opp_bag"] == pytest.approx(days / 30.44, rel=0.02)


def test_wraps_stand_from_the_plainest_up_and_their_figures_hold_their_ranges(catalogue: Catalogue) -> None:
    section = told(mix_of(catalogue, *PLAIN), catalogue)
    found = list(months(section).values())
    assert found == sorted(found) and len(found) == len(wrapping.WRAPS)
    for figure in section.figures:
        if isinstance(figure.value, float):
            assert isinstance(figure.low, float) and isinstance(figure.high, float)
            assert 0 <= figure.low <= figure.value <= figure.high
    paper, foil = months(section)["paper"], months(section)["foil_pouch"]
    # common practice, no source: a piece in paper spoils within days in a bathroom, one in foil keeps for years
    assert paper < 0.25 and foil > 24


def test_a_mix_that_draws_damp_sooner_keeps_for_less_long(catalogue: Catalogue) -> None:
    plain = months(told(mix_of(catalogue, *PLAIN), catalogue))
    damp = months(told(mix_of(catalogue, *PLAIN, ("dead_sea_salt", 60.0)), catalogue))
    assert damp["opp_bag"] < plain["opp_bag"]


def test_a_powder_is_told_by_the_bath_and_a_mix_without_fizz_not_at_all(catalogue: Catalogue) -> None:
    powder = told(mix_of(catalogue, *PLAIN, kind="powder"), catalogue)
    assert "one bath of powder" in powder.figure("months_in.jar").text
    assert told(mix_of(catalogue, ("sodium_bicarbonate", 400.0)), catalogue).figures == ()


def test_silica_gel_takes_up_what_the_wrap_lets_in(catalogue: Catalogue) -> None:
    section = told(mix_of(catalogue, *PLAIN), catalogue)
    gel = section.figure("desiccant_g").value
    assert isinstance(gel, float)
    # grams let in within six months at most by the film's rating as it stands, held by 0.22 g a gram
    most = 5.5 * 1.3 * 3.14159265 * 0.065**2 * 182.6 / 0.22
    assert 0.1 * most < gel < most
    (table,) = section.tables
    assert [len(row) for row in table.rows] == [len(table.head)] * len(wrapping.WRAPS)


def test_the_plainest_wrap_that_lasts_is_the_first_that_lasts(catalogue: Catalogue) -> None:
    section = told(mix_of(catalogue, *PLAIN), catalogue)
    lasting = [key for key, value in months(section).items() if value >= wrapping.WISHED_MONTHS]
    assert section.figure("wrap_enough").value == wrapping.WRAPS[lasting[0]][1]
    words = " ".join(f.text for f in section.figures)
    assert not re.search(r"\bsafe", words, re.IGNORECASE)
    for source in {s for f in section.figures for s in f.sources}:
        assert source in catalogue.sources
