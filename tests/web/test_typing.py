"""What a maker types: numbers read strictly, names for ids, half-typed lines, what is not saved, labels in messages."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from fizzwright.web.forms import plain_name
from tests.web.conftest import form_of

ORCHARD = "/recipes/orchard_rain"


def beside(text: str, box: str) -> str:
    return text.split(f'id="{box}-wrong"')[1].split(">")[1].split("<")[0]


@pytest.mark.parametrize(
    ("box", "typed"),
    [
        ("litres", "13O"),
        ("litres", "130x"),
        ("litres", "130 g"),
        ("litres", "1,2,3"),
        ("litres", "1 30"),
        ("litres", "٣"),
        ("litres", "130 l l"),
        ("count", "4x"),
        ("count", "4 l"),
        ("temperature_c", "38 F"),
        ("powder_g", "40 kg"),
        ("pieces", "2 g"),
    ],
)
def test_a_number_with_anything_else_is_refused_beside_its_box(spare: TestClient, box: str, typed: str) -> None:
    page = spare.post(ORCHARD, data=form_of(spare.get(ORCHARD)) | {box: typed, "do": "look"})
    assert page.status_code == 422
    assert beside(page.text, box).startswith(f"Read: &#34;{typed}&#34;. Write a ")


@pytest.mark.parametrize(
    ("box", "typed", "key"),
    [
        ("litres", "12,5", "litres = 12.5"),
        ("litres", "  120 litres ", "litres = 120"),
        ("temperature_c", "37,5 °C", "temperature_c = 37.5"),
        ("count", "3 pieces", "count = 3"),
        ("pieces", "0,5", "pieces = 0.5"),
        ("powder_g", "12.5 g", "powder_g = 12.5"),
        ("powder_g", "12.5g", "powder_g = 12.5"),
    ],
)
def test_a_number_with_its_own_unit_is_read(client: TestClient, recipes: Path, box: str, typed: str, key: str) -> None:
    saved = client.post(ORCHARD, data=form_of(client.get(ORCHARD)) | {box: typed, "do": "save"})
    assert saved.status_code == 303
    assert f"{key}\n" in (recipes / "orchard_rain.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "posted", [{"lines": "9" * 5000}, {"line-0-was": "9" * 5000}, {"at": "9" * 5000}, {"do": f"out-{'9' * 5000}"}]
)
def test_numbers_no_page_posts_are_passed_over(spare: TestClient, posted: dict[str, str]) -> None:
    # Python reads no whole number of more than 4300 digits
    form = form_of(spare.get(ORCHARD)) | posted
    assert spare.post(f"{ORCHARD}/look", data=form).status_code == 200
    assert spare.post(ORCHARD, data={"do": "look"} | form).status_code in (200, 422)
    assert spare.get(f"{ORCHARD}/bowl?step={'9' * 5000}").status_code == 200


def test_messages_name_the_box(spare: TestClient) -> None:
    form = form_of(spare.get(ORCHARD)) | {"temperature_c": "95", "count": "0", "made_on": "yesterday", "do": "look"}
    page = spare.post(ORCHARD, data=form).text
    assert beside(page, "temperature_c").startswith("Warmth is out of range.")
    assert beside(page, "count").startswith("How many is out of range.")
    assert beside(page, "made_on").startswith("Rules as of must be a day")


def test_a_water_report_stands_in_its_boxes_and_is_saved_in_mmol(client: TestClient, recipes: Path) -> None:
    form = form_of(client.get(ORCHARD))
    assert (form["water"], form["tap_alkalinity_mmol_l"], form["tap_ph"]) == ("own", "1.9", "7.6")
    typed = {"tap_calcium_mmol_l": "80 mg/l", "tap_alkalinity_mmol_l": "10 °dH", "tap_ph": ""}
    assert client.post(ORCHARD, data=form | typed | {"do": "save"}).status_code == 303
    water = tomllib.loads((recipes / "orchard_rain.toml").read_text(encoding="utf-8"))["tub"]["water"]
    # 80 / 40.078 and 10 x 2 x 10 / 56.077 (DIN 38409-6: a German degree is 10 mg CaO a litre)
    assert (water["calcium_mmol_l"], water["alkalinity_mmol_l"]) == (1.996, 3.567)
    assert "ph" not in water


def test_a_report_typed_while_nothing_is_chosen_is_used_and_a_class_takes_its_place(
    client: TestClient, recipes: Path
) -> None:
    path = recipes / "orchard_rain.toml"
    form = form_of(client.get(ORCHARD))
    assert client.post(ORCHARD, data=form | {"water": "hard", "do": "save"}).status_code == 303
    assert 'water = "hard"' in path.read_text(encoding="utf-8")
    assert "alkalinity_mmol_l" not in path.read_text(encoding="utf-8")
    form = form_of(client.get(ORCHARD)) | {"water": "", "tap_alkalinity_mmol_l": "2", "do": "save"}
    assert client.post(ORCHARD, data=form).status_code == 303
    assert "alkalinity_mmol_l = 2.0" in path.read_text(encoding="utf-8")
    assert form_of(client.get(ORCHARD))["water"] == "own"


def test_a_report_without_its_unit_is_asked_for_beside_its_box(spare: TestClient) -> None:
    page = spare.post(
        ORCHARD, data=form_of(spare.get(ORCHARD)) | {"tap_alkalinity_mmol_l": "250 mg/l", "do": "look"}
    ).text
    assert "120 mg/l CaCO3" in beside(page, "tap_alkalinity_mmol_l")


def test_room_door_fan_and_a_timed_test_are_kept(client: TestClient, recipes: Path) -> None:
    typed = {"room_m3": "9 m³", "door": "ajar", "fan": "on", "fizzed_in_s": "240 s", "do": "save"}
    assert client.post(ORCHARD, data=form_of(client.get(ORCHARD)) | typed).status_code == 303
    text = (recipes / "orchard_rain.toml").read_text(encoding="utf-8")
    for row in ("room_m3 = 9\n", 'door = "ajar"\n', 'fan = "on"\n', "fizzed_in_s = 240\n"):
        assert row in text


@pytest.mark.parametrize(
    ("typed", "use"),
    [
        ("Corn  Starch", "corn_starch"),
        ("corn starch", "corn_starch"),
        ("sodium bicarbonate", "sodium_bicarbonate"),
        ("baking soda", "sodium_bicarbonate"),
        ("CITRIC_ACID", "citric_acid"),
    ],
)
def test_a_name_an_other_name_or_a_spaced_id_is_the_id(spare: TestClient, typed: str, use: str) -> None:
    assert spare.app.state.bench.ids[plain_name(typed)] == use


def test_every_id_stands_for_itself_and_no_shared_name_is_guessed(spare: TestClient) -> None:
    bench = spare.app.state.bench
    catalogue = bench.catalogue
    usable = [*catalogue.materials.values(), *catalogue.oils.values(), *catalogue.constituents.values()]
    assert [bench.ids[plain_name(e.id)] for e in usable if plain_name(e.id) in bench.ids] == [
        e.id for e in usable if plain_name(e.id) in bench.ids
    ]
    labels: dict[str, set[str]] = {}
    for entry in (*catalogue.materials.values(), *catalogue.oils.values()):
        labels.setdefault(plain_name(entry.inci), set()).add(entry.id)
    shared = {label for label, ids in labels.items() if len(ids) > 1 and label}
    names = {plain_name(n) for e in usable for n in (e.id, e.name, *getattr(e, "also", ()))}
    assert shared - names, "the catalogue has label names that several entries share"
    assert not (shared - names) & set(bench.ids)


def test_a_line_tells_the_name_of_what_its_box_says(spare: TestClient) -> None:
    page = spare.get(ORCHARD).text
    name = spare.app.state.bench.catalogue.materials["corn_starch"].name
    assert f'<p class="told" id="line-2-name">{name}</p>' in page
    assert f'<option value="corn_starch">{name}</option>' in page


@pytest.mark.parametrize(("use", "amount"), [("kaolin", ""), ("", "1 tbsp"), ("kaol", "1 tbsp"), ("kaolin", "1 tb")])
def test_a_line_still_being_typed_is_not_counted_and_not_found_fault_with(
    spare: TestClient, use: str, amount: str
) -> None:
    page = spare.post(ORCHARD, data=form_of(spare.get(ORCHARD)) | {"do": "add"})
    form = form_of(page) | {"line-10-use": use, "line-10-amount": amount}
    typing = spare.post(f"{ORCHARD}/look", data=form | {"at": "10"})
    assert typing.status_code == 200
    assert "Not counted yet" in typing.text
    assert "To put right" not in typing.text
    assert "data-unsaved" in typing.text
    left = spare.post(f"{ORCHARD}/look", data=form | {"at": ""})
    assert "To put right" in left.text
    assert beside(left.text, "line-10-use") or beside(left.text, "line-10-amount")
    assert spare.post(ORCHARD, data=form | {"do": "save"}).status_code == 422


def test_a_line_of_the_file_is_found_fault_with_at_once(spare: TestClient) -> None:
    form = form_of(spare.get(ORCHARD)) | {"line-1-amount": "", "at": "1"}
    assert "To put right" in spare.post(f"{ORCHARD}/look", data=form).text


def test_what_is_not_saved_is_said_by_save_and_by_the_links(client: TestClient) -> None:
    opened = client.get(ORCHARD)
    assert "data-unsaved" not in opened.text
    look = client.post(f"{ORCHARD}/look", data=form_of(opened) | {"line-0-amount": "2 cup"})
    assert look.text.count(">Not saved yet<") == 2, "beside each Save"
    assert "shows the recipe as it was saved" in look.text
    back = client.post(f"{ORCHARD}/look", data=form_of(opened))
    assert "Not saved yet" not in back.text
    saved = client.post(ORCHARD, data=form_of(opened) | {"line-0-amount": "2 cup", "do": "save-end"})
    assert saved.headers["location"] == f"{ORCHARD}?done=saved#saved-end"
    after = client.get(f"{ORCHARD}?done=saved").text
    assert '<p id="unsaved" role="status">Saved</p>' in after
    assert 'id="saved-end"' in after
    assert 'id="saved"' in after


def test_windows_line_ends_are_not_a_change(client: TestClient, recipes: Path) -> None:
    file = recipes / "orchard_rain.toml"
    file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes().replace(b"\n", b"\r\n"))
    opened = client.get(ORCHARD)
    assert "data-unsaved" not in opened.text
    assert "data-unsaved" not in client.post(f"{ORCHARD}/look", data=form_of(opened)).text


def test_the_strip_where_one_types_says_stop_and_follows(client: TestClient) -> None:
    stopped = client.get("/recipes/hearth").text.split('<div id="strip"')[1].split("</div>")[0]
    assert "Stop" in stopped
    assert "must change" in stopped
    assert 'href="#answer"' in stopped
    assert "A piece" in stopped
    form = form_of(client.get(ORCHARD))
    before = client.get(ORCHARD).text.split('<div id="strip"')[1].split("</div>")[0]
    assert "Stop" not in before
    look = client.post(f"{ORCHARD}/look", data=form | {"line-7-use": "Cinnamon bark", "line-7-amount": "90 drops"}).text
    assert "Stop" in look.split('<div id="strip" hx-swap-oob="true"')[1].split("</div>")[0]


def test_resizing_puts_the_answer_by_the_form_with_the_focus(spare: TestClient) -> None:
    page = spare.post(ORCHARD, data=form_of(spare.get(ORCHARD)) | {"size_count": "8", "do": "size-count"}).text
    assert page.index('id="recipe-form"') < page.index('id="sized" tabindex="-1" autofocus')
    assert page.count(" autofocus") == 1


def test_taking_out_a_line_nobody_wrote_in_leaves_no_trace(spare: TestClient) -> None:
    page = spare.post(ORCHARD, data=form_of(spare.get(ORCHARD)) | {"do": "add"})
    gone = spare.post(ORCHARD, data=form_of(page) | {"do": "out-10"}).text
    assert '<li data-line="10" data-new hidden>' in gone
    assert 'id="add" name="do" value="add" autofocus' in gone
