"""The picture of the air and the amounts of the squeeze test; the verdict itself is tested in its own room."""

from __future__ import annotations

import pint
import psychrolib
import pytest

from fizzwright.catalogue import load, open_workshop
from fizzwright.demo import folder
from fizzwright.plan.today import ANSWERS, Today, added_g, air_picture, binder_of, minutes_since, squeezed, today
from fizzwright.recipe.document import read_file
from fizzwright.refusal import Refusal
from fizzwright.review.room import Room, read_room


@pytest.fixture(scope="module")
def orchard() -> Today:
    catalogue, workshop = open_workshop(folder())
    recipe = read_file(folder() / "recipes/orchard_rain.toml", catalogue)
    return today(recipe, catalogue, workshop, read_room(workshop, catalogue, 21.0, 45.0))


def test_the_picture_agrees_with_the_handbooks_example() -> None:
    """ASHRAE Handbook, Fundamentals, Psychrometrics, Example 1 (from memory): moist air at 40 °C dry bulb and 20 °C wet
    bulb has W = 6.5 g/kg, a dew point of 7 °C and 14 % relative humidity, all read off the printed chart."""
    picture = air_picture(Room(40.0, 14.0), 55.0)
    assert picture.water_g_kg == pytest.approx(6.5, abs=0.15)
    assert picture.dew_point_c == pytest.approx(7.0, abs=0.5)
    assert picture.celsius[-1] >= 40.0, "the axis reaches as far as the room"


@pytest.mark.parametrize(
    ("room_c", "humidity"), [(21.0, 58.0), (5.0, 20.0), (34.0, 95.0), (-5.0, 60.0), (20.0, 100.0), (20.0, 0.0)]
)
def test_the_point_lies_on_its_line_and_the_dew_point_on_the_last(room_c: float, humidity: float) -> None:
    """psychrolib, asked for the dew point and the ratio of saturated air there: the horizontal line meets 100 %."""
    picture = air_picture(Room(room_c, humidity), 55.0)
    assert picture.celsius[0] <= min(room_c, max(picture.dew_point_c, -20.0)) and room_c <= picture.celsius[-1]
    if humidity >= 1.0:
        there = 1000.0 * psychrolib.GetSatHumRatio(picture.dew_point_c, 101_325.0)
        assert there == pytest.approx(picture.water_g_kg, rel=2e-3)
    for pct, grams in picture.at_room:
        assert (grams >= picture.water_g_kg) == (pct >= humidity)
    word = "above" if humidity >= 55.0 else "below"
    assert word in picture.title


def test_amounts_added_so_far_are_grams_of_the_binder_in_use(orchard: Today) -> None:
    catalogue = load()
    ureg = pint.UnitRegistry()
    density = catalogue.materials[binder_of(orchard, catalogue)].true_density_g_ml
    assert density is not None
    assert added_g("", orchard, catalogue) == 0.0
    assert added_g("0.8 g", orchard, catalogue) == 0.8
    assert added_g("1/2 oz", orchard, catalogue) == pytest.approx(ureg("0.5 ounce").to("gram").magnitude)
    # unprefixed teaspoons of pint are United States customary, as the recipe's are
    teaspoon = ureg("0.25 teaspoon").to("ml").magnitude
    assert added_g("1/4 tsp", orchard, catalogue) == pytest.approx(teaspoon * density, rel=2e-3)
    # a fine mist of 0.1 to 0.25 ml a press: common practice, no source
    assert 6 * 0.1 * density <= added_g("6 sprays", orchard, catalogue) <= 6 * 0.25 * density


@pytest.mark.parametrize("typed", ["some", "-3 sprays", "2 %", "to consistency", "6 sprays each", "nan g", "1e9 g"])
def test_amounts_nobody_added_are_refused_in_words(orchard: Today, typed: str) -> None:
    with pytest.raises(Refusal, match="Read: "):
        added_g(typed, orchard, load())


@pytest.mark.parametrize(("typed", "minutes"), [("", 0.0), ("5", 5.0), ("1 1/2 min", 1.5), ("7,5", 7.5), ("0", 0.0)])
def test_minutes_as_typed(orchard: Today, typed: str, minutes: float) -> None:
    assert minutes_since(typed, orchard, load()) == minutes


@pytest.mark.parametrize("typed", ["a while", "-5", "9999", "5 h"])
def test_minutes_nobody_waited_are_refused(orchard: Today, typed: str) -> None:
    with pytest.raises(Refusal, match="minutes"):
        minutes_since(typed, orchard, load())


def test_the_plan_goes_from_air_to_wrap_and_follows_window_and_fan(orchard: Today) -> None:
    titles = [step.title for step in orchard.steps()]
    assert titles == ["Damp", "Window", "Bowl", "Binder", "Drying", "Wrapping"]
    plain = {step.title: [f.id for f in step.figures] for step in orchard.steps()}
    other = {step.title: [f.id for f in step.figures] for step in orchard.steps(is_open=True, fan=True)}
    assert "drying_hours" in plain["Drying"] and "fan_drying_hours" in other["Drying"]
    assert "alcohol_peak_ppm" in plain["Window"] and "alcohol_peak_open_ppm" in other["Window"]
    assert "Children" in orchard.room_ready
    assert any("flame" in notice.text for notice in orchard.cautions)


def test_each_answer_of_the_squeeze_leads_on(orchard: Today) -> None:
    told = {answer: squeezed(orchard, load(), answer, 0.0, 0.0) for answer in ANSWERS}
    assert told["crumbles"].add_g > 0 and told["holds"].add_g == 0
    assert len({t.do for t in told.values()}) == 3
