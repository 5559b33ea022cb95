"""The tub and the air on the recipe page: curves drawn or waiting, the piece cut through, colours, controls."""

from __future__ import annotations

import re

import numpy as np
import pytest
from starlette.testclient import TestClient

from fizzwright.review.figures import Curve, Cutaway
from fizzwright.web import charts, drawings
from tests.web.conftest import form_of

ORCHARD = "/recipes/orchard_rain"
TIDES = "/recipes/two_tides"


def test_the_whole_page_draws_every_curve_so_that_it_works_without_script(spare: TestClient) -> None:
    page = spare.get(ORCHARD).text
    assert 'class="drawing waits"' not in page
    assert page.count('<figure class="curve">') == page.count('<div class="drawing"><svg') >= 4


def test_while_typing_curves_wait_until_they_are_seen_and_then_follow_what_is_typed(spare: TestClient) -> None:
    form = form_of(spare.get(ORCHARD))
    swap = spare.post(f"{ORCHARD}/look", data=form).text
    waiting = re.findall(r'hx-post="([^"]+)"', swap)
    assert len(waiting) >= 4
    first = spare.post(waiting[0], data=form)
    assert first.status_code == 200
    assert first.text.startswith('<div class="drawing"><svg')
    hotter = spare.post(waiting[0], data=form | {"temperature_c": "30"})
    assert hotter.text != first.text


def test_a_curve_nobody_knows_is_an_empty_picture(spare: TestClient) -> None:
    found = spare.post(f"{ORCHARD}/curve/tub/no_such", data=form_of(spare.get(ORCHARD)))
    assert (found.status_code, found.text) == (200, '<div class="drawing"></div>')


def test_the_piece_cut_through_has_words_frames_and_a_key(spare: TestClient) -> None:
    page = spare.get("/recipes/lantern").text
    drawing = page.split('<figure class="piece">')[1].split("</figure>")[0]
    assert 'role="img" aria-label="' in drawing
    assert drawing.count("<li><svg") == drawings.FRAMES + 2
    assert "dropped in" in drawing


def test_layers_turn_the_water_and_it_is_said_in_words(spare: TestClient) -> None:
    page = spare.get(TIDES).text
    assert len(re.findall(r'<li><svg viewBox="0 0 40 24".*?<span>[a-z ]+ <small>', page)) >= 2


def test_a_colour_is_shown_as_one_and_named(spare: TestClient) -> None:
    page = spare.get(TIDES).text
    figure = page.split('id="figure-tub-water_colour"')[1].split("</li>")[0]
    assert re.search(r'<svg class="chip".*fill="(#[0-9a-f]{6})".*</svg>\1', figure)


def test_fan_and_room_move_the_air(spare: TestClient) -> None:
    form = form_of(spare.get(ORCHARD))

    def peak(**typed: str) -> float:
        swap = spare.post(f"{ORCHARD}/look", data=form | typed).text
        figure = swap.split('id="figure-air-total_peak_mg_m3"')[1]
        return float(figure.split('class="weight">')[1].split("<")[0])

    assert peak(room_m3="30") < peak() < peak(room_m3="6")
    assert peak(fan="on", door="ajar") < peak()


def test_a_timed_test_takes_the_place_of_the_estimate(spare: TestClient) -> None:
    swap = spare.post(f"{ORCHARD}/look", data=form_of(spare.get(ORCHARD)) | {"fizzed_in_s": "300"}).text
    figure = swap.split('id="figure-tub-fizz_seconds"')[1].split("</li>")[0]
    assert 'class="weight">300' in figure
    assert "learnt from your own batches" in figure


def test_frames_shrink_to_nothing_like_a_ball() -> None:
    """A ball eaten evenly: at half its time half the radius, a quarter of the area of the cut (plane geometry)."""
    size, radius = 81, 32.0
    y, x = np.mgrid[0:size, 0:size].astype(float)
    far = np.hypot(x - 40, y - 40)
    seconds = np.where(far < radius, (radius - far) / 0.1, np.nan)
    part = np.where(far < radius, 0, -1).astype(np.int8)
    drawn = drawings.of_piece(Cutaway(1.0, seconds, part, ("piece",), ("#ffffff",), "A ball."))

    def area(frame: str) -> float:
        solid = re.findall(r'<path d="M([^"]+)Z" fill="#ffffff"', frame)
        points = np.array([[float(v) for v in p.split()] for p in solid[0].split("L")])
        (x0, y0), (x1, y1) = points.T, np.roll(points, -1, axis=0).T
        return abs(float((x0 * y1 - x1 * y0).sum())) / 2

    whole, half = area(drawn.frames[0].svg), area(drawn.frames[drawings.FRAMES // 2].svg)
    assert whole == pytest.approx(np.pi * radius**2, rel=0.01)
    assert half / whole == pytest.approx(0.25, rel=0.02)


def test_a_part_that_is_all_gone_is_not_drawn() -> None:
    """A ball with a core, eaten evenly: once its shell is gone, only the core is left to be painted (plane geometry)."""
    size, radius, core = 81, 32.0, 16.0
    y, x = np.mgrid[0:size, 0:size].astype(float)
    far = np.hypot(x - 40, y - 40)
    seconds = np.where(far < radius, (radius - far) / 0.1, np.nan)
    part = np.where(far < core, 1, np.where(far < radius, 0, -1)).astype(np.int8)
    drawn = drawings.of_piece(Cutaway(1.0, seconds, part, ("shell", "core"), ("#ffffff", "#ff0000"), "A cored ball."))
    painted = [[colour in frame.svg for colour in ("#ffffff", "#ff0000")] for frame in drawn.frames]
    half = drawings.FRAMES // 2
    assert painted[:half] == [[True, True]] * half
    assert painted[half + 1 :] == [[False, True]] * (drawings.FRAMES - half - 1)


def test_a_long_name_in_two_layers_stays_two_bars() -> None:
    rows = [{"name": "a carrier oil with quite a long name", "part": part} for part in ("layer_1", "layer_2")]
    names = [charts._name(row) for row in rows]
    assert names[0] != names[1]
    assert all(len(name) <= charts.LONGEST_NAME for name in names)
    assert [name.rpartition(", ")[2] for name in names] == ["layer 1", "layer 2"]


def test_a_curve_keeps_its_end_and_a_logarithm_never_meets_nothing() -> None:
    seconds = tuple(float(i) for i in range(1000))
    rising = tuple(0.0 if s < 10 else s for s in seconds)
    found = Curve("c", "It rises", "time", "s", "odour", "", seconds, {"one": rising}, is_log=True)
    rows = charts.curve(found)["layer"][0]["data"]["values"]
    assert rows[-1]["x"] == 999.0
    assert len(rows) <= charts.CURVE_POINTS + 1
    assert min(row["y"] for row in rows) > 0
    assert "<svg" in charts.drawn(charts.curve(found))
