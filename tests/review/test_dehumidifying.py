"""The dehumidifier: litres by psychrolib's own densities, the machine of the demo workshop, and when it is too small."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import psychrolib
import pytest

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workroom, Workshop
from fizzwright.recipe.document import read_text
from fizzwright.recipe.weigh import weigh
from fizzwright.review import dehumidifying
from fizzwright.review.figures import Section
from fizzwright.review.room import Room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import piece

RECIPE = """name = "Bench"
kind = "fizzer"
[makes]
mould = "sphere_65"
[[line]]
use = "sodium_bicarbonate"
amount = "400 g"
[[line]]
use = "citric_acid"
amount = "200 g"
[[line]]
use = "water"
amount = "10 g"
"""
QUILLMOOR = Workroom(28.0, 0.6, 4.0, 19.0, 58.0, dehumidifier_l_per_day=10.0)


def told(catalogue: Catalogue, room: Room, workroom: Workroom | None = QUILLMOOR) -> Section:
    workshop = Workshop("Bench", Path(), "GBP", 2, room=workroom)
    mix = weigh(read_text(RECIPE, catalogue), catalogue)
    return dehumidifying.told(mix, catalogue, Setting(workshop), piece(mix, catalogue), room)


def test_litres_a_day_are_the_air_that_leaks_in_the_breath_and_the_batch(catalogue: Catalogue) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    leaks, wanted = (psychrolib.GetHumRatioFromRelHum(24.0, rh, 101325) for rh in (0.70, 0.45))
    air = 24 * 28 * 0.6 / psychrolib.GetMoistAirVolume(24.0, wanted, 101325) * (leaks - wanted)
    figure = told(catalogue, Room(24.0, 70.0, 28.0, 0.6, 4.0)).figure("dehumidifier_l_per_day")
    assert figure.value == pytest.approx(air + 8 * 0.060 + 0.010, rel=1e-3)
    assert isinstance(figure.low, float) and isinstance(figure.high, float) and figure.low < figure.high


def test_a_room_dry_enough_asks_for_none(catalogue: Catalogue) -> None:
    section = told(catalogue, Room(20.0, 40.0, 28.0, 0.6, 4.0))
    assert section.figure("dehumidifier_l_per_day").value == 0.0
    assert [f.id for f in section.figures] == ["dehumidifier_l_per_day"]
    assert section.tables == section.notices == ()


def test_the_demo_s_machine_is_enough_for_its_room_shut_and_not_for_one_that_stands_open(catalogue: Catalogue) -> None:
    room = Room(19.0, 58.0, 28.0, 0.6, 4.0)
    shut = told(catalogue, room)
    assert not shut.notices
    hours = shut.figure("dehumidify_hours").value
    assert isinstance(hours, float) and 0.2 < hours < 24
    takes = shut.figure("dehumidifier_takes_l_per_day").value
    assert isinstance(takes, float) and 2.0 < takes < 7.0
    draughty = told(catalogue, replace(room, humidity_pct=85.0, air_changes_shut=6.0))
    assert [n.level for n in draughty.notices] == ["mind"]
    assert draughty.figure("dehumidify_hours").value == "never"


def test_without_a_machine_the_plate_to_look_for_is_told(catalogue: Catalogue) -> None:
    section = told(catalogue, Room(19.0, 58.0, 28.0, 0.6, 4.0), None)
    assert [f.id for f in section.figures] == ["dehumidifier_l_per_day"]
    assert "on its plate" in section.figure("dehumidifier_l_per_day").text
    assert all(len(row) == 2 for row in section.tables[0].rows)


def test_the_table_runs_from_15_to_30_degrees_and_grows_with_warmth(catalogue: Catalogue) -> None:
    (table,) = told(catalogue, Room(19.0, 58.0, 28.0, 0.6, 4.0)).tables
    assert [row[0] for row in table.rows] == ["15 °C", "20 °C", "25 °C", "30 °C"]
    comes, takes = ([float(row[column]) for row in table.rows] for column in (1, 2))
    assert comes == sorted(comes) and takes == sorted(takes)


def test_it_is_a_dehumidifier_that_is_told_of(catalogue: Catalogue) -> None:
    section = told(catalogue, Room(24.0, 80.0, 28.0, 3.0, 4.0))
    words = " ".join([*(f.text for f in section.figures), *(n.text for n in section.notices)])
    assert "humidif" in words
    assert words.lower().count("humidif") == words.lower().count("dehumidif")
