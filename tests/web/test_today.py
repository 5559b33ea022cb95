"""The Today page: what may be typed, what comes out, what is kept, and that recipe pages follow it."""

from __future__ import annotations

import csv
import html
import re
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from fizzwright.catalogue import open_workshop
from fizzwright.demo import folder
from fizzwright.plan.today import today
from fizzwright.recipe.document import read_file
from fizzwright.review.room import read_room

DRY = {"room": "21 C", "humidity": "35 %", "recipe": "orchard_rain"}


def post(client: TestClient, **data: str) -> Any:
    return client.post("/today", data={**DRY, "do": "look", **data})


def seen(response: Any) -> str:
    return html.unescape(re.sub(r"[ \n\t]+", " ", re.sub(r"<[^>]+>", " ", response.text)))


def test_it_stands_second_among_the_pages_and_asks_first(spare: TestClient) -> None:
    page = spare.get("/today")
    assert page.status_code == 200
    nav = re.search(r"<nav.*?</nav>", page.text, re.DOTALL)
    assert nav and re.findall(r'href="([^"]+)"', nav[0])[:2] == ["/", "/today"]
    assert '<a href="/today" aria-current="page">' in page.text
    assert "19\u202f°C and 58\u202f%, as this room usually is" in seen(page)
    assert 'id="verdict"' not in page.text


@pytest.mark.parametrize("humidity", ["30", "62", "92"])
def test_the_word_is_the_reviews_own(spare: TestClient, humidity: str) -> None:
    catalogue, workshop = open_workshop(folder())
    recipe = read_file(folder() / "recipes/orchard_rain.toml", catalogue)
    day = today(recipe, catalogue, workshop, read_room(workshop, catalogue, 21.0, float(humidity))).day
    page = post(spare, humidity=humidity)
    word = re.search(r'class="dayword">(.*?)</p>', page.text, re.DOTALL)
    assert word and re.sub(r"<[^>]+>", "", word[1]).strip().lower() == day.word
    assert word[1].count("<svg") == 1, "a shape beside the word"
    assert day.sentence in seen(page)
    for text in day.changes:
        assert text in seen(page)


def test_damper_air_is_never_a_better_day(spare: TestClient) -> None:
    order = ["Dry", "Hold", "Wait"]
    found = []
    for humidity in ("25", "45", "60", "75", "95"):
        word = re.search(r'class="dayword">(.*?)</p>', post(spare, humidity=humidity).text, re.DOTALL)
        assert word
        found.append(order.index(re.sub(r"<[^>]+>", "", word[1]).strip()))
    assert found == sorted(found) and found[0] == 0 and found[-1] > 0


def test_fahrenheit_is_taken_when_said(spare: TestClient) -> None:
    assert "Orchard Rain in 21.1\u202f°C and 35\u202f%" in seen(post(spare, room="70 F"))


@pytest.mark.parametrize(
    ("room", "humidity", "box", "said"),
    [
        ("72", "58", "room", "Is that Fahrenheit?"),
        ("warm", "58", "room", "21 C or 70 F"),
        ("", "58", "room", "Write what the thermometer shows"),
        ("21", "", "humidity", "Write what the hygrometer shows"),
        ("21", "101", "humidity", "0 to 100"),
        ("21", "-1", "humidity", "0 to 100"),
        ("21", "<b>damp</b>", "humidity", "0 to 100"),
        ("21", "0.58", "humidity", "Is that 58 %?"),
    ],
)
def test_what_nobody_can_have_is_told_beside_its_box(
    spare: TestClient, room: str, humidity: str, box: str, said: str
) -> None:
    page = post(spare, room=room, humidity=humidity)
    assert page.status_code == 422
    beside = re.search(rf'<p class="wrong" id="{box}-wrong">(.*?)</p>', page.text, re.DOTALL)
    assert beside and said in html.unescape(beside[1])
    assert f'<a href="#{box}">' in page.text and "<title>Error:" in page.text
    typed = re.search(rf'id="{box}" name="{box}" value="([^"]*)"', page.text)
    assert typed and html.unescape(typed[1]) == {"room": room, "humidity": humidity}[box]
    assert "<b>damp" not in page.text and 'id="verdict"' not in page.text


def test_a_sensors_line_fills_the_boxes(spare: TestClient) -> None:
    page = post(spare, room="", humidity="", line="T=70.7F RH=61%")
    assert page.status_code == 200, seen(page)
    assert "Orchard Rain in 21.5\u202f°C and 61\u202f%" in seen(page)
    assert 'name="room" value="21.5 C"' in page.text and 'name="humidity" value="61 %"' in page.text
    wrong = post(spare, line="no numbers here")
    assert wrong.status_code == 422 and 'href="#line"' in wrong.text and "no numbers here" in wrong.text
    assert post(spare, line="21 C 158 %").status_code == 422


def test_a_reading_is_kept_once_and_recipe_pages_follow_it(client: TestClient, recipes: Path) -> None:
    before = seen(client.get("/recipes/orchard_rain"))
    assert "19\u202f°C and 58\u202f%, as this room usually is" in before
    for _ in range(2):
        kept = post(client, room="24 C", humidity="71", do="keep", window="open")
        assert kept.status_code == 303
    assert kept.headers["location"] == "/today?recipe=orchard_rain&window=open&kept=1"
    with (recipes.parent / "readings.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert rows == [{"time": "2026-11-25T12:00Z", "room_c": "24", "humidity_pct": "71"}]
    after = client.get("/recipes/orchard_rain")
    assert "24\u202f°C and 71\u202f%, read today at 12:00" in seen(after)
    assert 'href="/today?recipe=orchard_rain"' in after.text
    opened = client.get(kept.headers["location"])
    assert "Orchard Rain in 24\u202f°C and 71\u202f%" in seen(opened) and "Kept" in seen(opened)
    dew = re.compile(r'id="figure-making_day-dew_point_c".*?class="weight">([^<]*)', re.DOTALL)
    shown = dew.search(after.text)
    # 24 °C and 71 %: dew point 18.4 °C by the Magnus formula with the constants of Alduchov and Eskridge (1996)
    assert shown and float(shown[1].split("\u202f")[0]) == pytest.approx(18.4, abs=0.1)


def test_nothing_is_kept_of_what_cannot_be_read(client: TestClient, recipes: Path) -> None:
    assert post(client, humidity="120", do="keep").status_code == 422
    assert not (recipes.parent / "readings.csv").exists()
    (recipes.parent / "readings.csv").write_text("something else\n", encoding="utf-8")
    page = post(client, do="keep")
    assert page.status_code == 422 and "readings.csv, line 1" in seen(page)
    assert (recipes.parent / "readings.csv").read_text(encoding="utf-8") == "something else\n"
    assert "readings.csv, line 1" in seen(client.get("/recipes/orchard_rain"))


@pytest.mark.parametrize("at", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:00-14:00", "soon"])
def test_a_moment_no_reading_has_is_told(client: TestClient, recipes: Path, at: str) -> None:
    page = post(client, do="keep", read_at=f"{at} {DRY['room']} {DRY['humidity']}")
    assert page.status_code == 422 and "Paste the line once more" in seen(page)
    assert not (recipes.parent / "readings.csv").exists()


def test_a_reading_keeps_the_moment_its_line_says(client: TestClient, recipes: Path) -> None:
    page = post(client, room="", humidity="", line="time,temperature_c,humidity\n2026-11-25T08:30:00Z,21.4,58\n")
    at = re.search(r'name="read_at" value="([^"]*)"', page.text)
    assert at and at[1], seen(page)
    boxes = {"room": "21.4 C", "humidity": "58 %", "read_at": html.unescape(at[1])}
    assert post(client, **boxes, do="keep").status_code == 303
    assert "2026-11-25T08:30Z,21.4,58" in (recipes.parent / "readings.csv").read_text(encoding="utf-8")
    # other boxes than the line's are a reading of now
    assert post(client, **{**boxes, "humidity": "60 %"}, do="keep").status_code == 303
    assert "2026-11-25T12:00Z,21.4,60" in (recipes.parent / "readings.csv").read_text(encoding="utf-8")
    broken = post(client, **{**boxes, "read_at": "yesterday 21.4 C 58 %"}, do="keep")
    assert broken.status_code == 422 and "yesterday" in seen(broken)


@pytest.mark.parametrize(("answer", "word"), [("crumbles", "It crumbles"), ("holds", "It holds"), ("wet", "It is wet")])
def test_the_squeeze_has_three_answers(spare: TestClient, answer: str, word: str) -> None:
    page = post(spare, do=answer, added="6 sprays", minutes="3")
    assert page.status_code == 200
    told = page.text[page.text.index('id="squeezed"') :].split("</section>")[0]
    assert word in told
    assert 'name="added" value="6 sprays"' in page.text


@pytest.mark.parametrize(("box", "typed"), [("added", "lots"), ("added", "-2 g"), ("minutes", "a while")])
def test_a_squeeze_that_cannot_be_read_is_told_beside_its_box(spare: TestClient, box: str, typed: str) -> None:
    page = post(spare, do="crumbles", **{box: typed})
    assert page.status_code == 422 and f'href="#{box}"' in page.text and 'id="squeezed"' not in page.text


def test_a_recipe_that_is_gone_or_broken_is_told(client: TestClient, recipes: Path) -> None:
    gone = post(client, recipe="nowhere")
    assert gone.status_code == 422 and 'href="#recipe"' in gone.text
    assert post(client, recipe="../workshop").status_code == 422
    (recipes / "broken.toml").write_text('name = "Broken <i>"\nkind = "fizzer"\n', encoding="utf-8")
    broken = post(client, recipe="broken")
    assert broken.status_code == 422 and "needs a change first" in seen(broken) and "<i>" not in broken.text
    for file in recipes.glob("*.toml"):
        file.unlink()
    assert client.get("/today").status_code == 200
    none = client.post("/today", data={"room": "21", "humidity": "50"})
    assert none.status_code == 422 and "no recipe yet" in seen(none)


def test_good_air_does_not_hide_what_stops_a_recipe(spare: TestClient) -> None:
    assert "Stop : whatever the air." in seen(post(spare, recipe="hearth"))
    assert "whatever the air" not in seen(post(spare, recipe="orchard_rain"))


def test_every_recipe_of_the_demo_has_a_day(spare: TestClient) -> None:
    for file in sorted((folder() / "recipes").glob("*.toml")):
        page = post(spare, recipe=file.stem, room="18", humidity="80")
        assert page.status_code == 200, (file.stem, seen(page)[:400])
        assert page.text.count('class="dayword"') == 1
        assert " safe" not in seen(page).lower().replace("safety", "").split("figures are computed")[0]


def test_pictures_are_drawn_and_told_in_numbers(spare: TestClient) -> None:
    page = post(spare)
    pictures = page.text[page.text.index('id="pictures-title"') :]
    assert pictures.count("<svg") >= 4, "the air, the open bowl, drying, vapour"
    assert pictures.count("As numbers") == pictures.count('class="curve"')
    text = seen(page)
    assert "Dew point" in text and "this mix draws water" in text
