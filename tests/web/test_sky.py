"""Pictures of the air: what is drawn is what was found, and the words tell the same."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.plan.today import air_picture
from fizzwright.review.figures import Curve
from fizzwright.review.room import Room
from fizzwright.web import charts, sky

WORDS = st.lists(st.sampled_from(["dry", "hold", "wait", ""]), min_size=24, max_size=24)


@given(WORDS)
def test_the_hours_in_words_are_the_hours_drawn(words: list[str]) -> None:
    told = [""] * 24
    for start, end, word in re.findall(r"(\d+) to (\d+) (\w+)", sky.runs(words)):
        told[int(start) : int(end)] = [word] * (int(end) - int(start))
    assert told == words
    picture = ElementTree.fromstring(sky.days([("Wed 25 Nov <b>", words)]))
    drawn = [path.get("d") for path in picture.iter("path")]
    for word, shape in sky.SHAPES.items():
        assert drawn.count(shape) == words.count(word)


def test_every_word_has_a_shape_of_its_own() -> None:
    assert len(set(sky.SHAPES.values())) == 3


@pytest.mark.parametrize("danger", [35.0, 60.0, 97.0])
@pytest.mark.parametrize("room", [Room(21.0, 58.0), Room(-4.0, 90.0), Room(44.0, 80.0)])
def test_the_air_is_drawn_wherever_it_lies(room: Room, danger: float) -> None:
    found = air_picture(room, danger)
    spec = sky.air(found)
    low, high = spec["layer"][0]["encoding"]["x"]["scale"]["domain"]
    bottom, top = spec["layer"][0]["encoding"]["y"]["scale"]["domain"]
    for layer in spec["layer"]:
        for row in layer["data"]["values"]:
            assert low <= row["x"] <= high and bottom <= row["y"] <= top + 1e-9
    labels = [row["label"] for layer in spec["layer"] for row in layer["data"]["values"] if "label" in row]
    assert f"mix {danger:.0f} %" in labels and {"now", "dew point"} <= set(labels)
    assert "100 %" in labels or danger > 90
    svg = charts.drawn(spec)
    assert "mix" in svg and "dew point" in svg


def test_the_table_tells_what_the_picture_shows() -> None:
    rows = dict(sky.air_rows(air_picture(Room(20.0, 50.0), 55.0)))
    # 20 °C and 50 %: dew point 9.3 °C, 7.3 g/kg (ASHRAE psychrometric chart No. 1 at sea level, from memory)
    assert rows["Dew point"].startswith("9.2") or rows["Dew point"].startswith("9.3")
    assert rows["Water in a kilogram of its air"].startswith("7.2")


def test_words_beside_a_curve_do_not_lie_on_one_another() -> None:
    curve = Curve(
        "c", "t", "x", "min", "y", "ppm", (0.0, 10.0), {"a": (0.0, 100.0)},
        marks={"early": 0.1, "late": 6.0}, levels={"low": 20.0, "one": 95.0, "other": 96.0},
    )  # fmt: skip
    layers = charts.curve(curve)["layer"]
    moved = {row["label"]: row["dy"] for layer in layers for row in layer["data"]["values"] if "label" in row}
    assert moved["early"] > 0 > moved["late"], "beside the axis the word stands to the right of its line"
    assert moved["low"] < 0 < moved["one"], "near the top the word stands below its line"
    assert abs(moved["one"] - moved["other"]) >= 12, "as high as a letter"
    svg = charts.drawn(charts.curve(curve))
    places = re.findall(r'transform="translate\(([\d.-]+),([\d.-]+)\)[^>]*>(one|other)<', svg)
    assert len(places) == 2 and abs(float(places[0][1]) - float(places[1][1])) >= 10, places
