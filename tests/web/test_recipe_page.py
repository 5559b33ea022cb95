"""The recipe page: looked at, changed, refused, resized, saved."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from fizzwright.catalogue import open_workshop
from fizzwright.recipe.document import read_file
from fizzwright.review import review
from tests.web.conftest import form_of

ORCHARD = "/recipes/orchard_rain"


def test_the_page_shows_what_review_computes(spare: TestClient) -> None:
    folder = spare.app.state.bench.shelf.folder.parent
    catalogue, workshop = open_workshop(folder)
    report = review(read_file(folder / "recipes" / "orchard_rain.toml", catalogue), catalogue, workshop)
    page = spare.get(ORCHARD)
    assert page.status_code == 200
    piece = report.section("mould").figure("piece_g")
    assert piece.text in page.text
    assert f"{float(piece.value):.0f}\u202fg" in page.text
    for section in report.sections:
        for figure in section.figures:
            if not figure.id.startswith("share_pct."):
                assert f'id="figure-{section.id}-{figure.id.replace(".", "-")}"' in page.text


@pytest.mark.parametrize(
    "stem",
    [
        "drift",
        "hearth",
        "lantern",
        "loft_heart",
        "noon",
        "orchard_rain",
        "paddling_pool",
        "pebbles",
        "shingle_foam",
        "stillwater_clay",
        "two_tides",
    ],
)
def test_every_demo_recipe_opens_and_an_untouched_form_changes_nothing(
    client: TestClient, recipes: Path, stem: str
) -> None:
    before = (recipes / f"{stem}.toml").read_bytes()
    page = client.get(f"/recipes/{stem}")
    assert page.status_code == 200
    saved = client.post(f"/recipes/{stem}", data=form_of(page) | {"do": "save"})
    assert saved.status_code == 303, saved.text
    assert (recipes / f"{stem}.toml").read_bytes() == before


def test_looking_changes_figures_and_saves_nothing(client: TestClient, recipes: Path) -> None:
    before = (recipes / "orchard_rain.toml").read_bytes()
    form = form_of(client.get(ORCHARD)) | {"line-0-amount": "660 g"}
    part = client.post(f"{ORCHARD}/look", data=form)
    assert part.status_code == 200
    assert '<p class="weight" id="line-0-weight" hx-swap-oob="true">660\u202fg</p>' in part.text
    assert 'id="figure-mix-total_g"' in part.text
    assert "<input" not in part.text, "a swap must not touch what is being typed"
    assert (recipes / "orchard_rain.toml").read_bytes() == before


def test_bad_amount_stands_beside_its_box_and_everything_typed_is_kept(client: TestClient) -> None:
    form = form_of(client.get(ORCHARD)) | {"line-0-amount": "a heap", "name": "Half typed"}
    page = client.post(ORCHARD, data=form | {"do": "look"})
    assert page.status_code == 422
    assert page.text.index("<title>Error: ") > 0
    assert 'href="#line-0-amount"' in page.text
    assert 'value="a heap"' in page.text
    assert 'value="Half typed"' in page.text
    beside = page.text.split('id="line-0-amount-wrong">')[1].split("</p>")[0]
    assert "heap" in beside or "amount" in beside.lower()
    assert "These figures are from before this change" in page.text
    assert 'id="figure-mould-piece_g"' in page.text


def test_last_good_figures_are_those_typed_last_not_those_saved(client: TestClient) -> None:
    form = form_of(client.get(ORCHARD)) | {"line-0-amount": "660 g"}
    good = client.post(ORCHARD, data=form | {"do": "look"})
    total = good.text.split('id="figure-mix-total_g"')[1].split("</p>")[0]
    bad = client.post(f"{ORCHARD}/look", data=form_of(good) | {"line-1-amount": "-3 cups"})
    assert total in bad.text
    assert "from before this change" in bad.text


@pytest.mark.parametrize(
    ("box", "typed"),
    [
        ("name", ""),
        ("count", "many"),
        ("count", "0"),
        ("litres", "1e308"),
        ("litres", "nan"),
        ("temperature_c", "95"),
        ("kind", "soap"),
        ("made_on", "yesterday"),
        ("mould", "mesh:../../secret.stl"),
        ("line-0-use", "sodium_bicarbonat"),
        ("line-0-use", ""),
        ("line-0-amount", ""),
        ("line-0-amount", "nan g"),
        ("line-0-amount", "1e308 g"),
        ("line-6-diluted_in", "nothing_here"),
        ("line-0-part", "core"),
    ],
)
def test_each_bad_box_is_named(spare: TestClient, box: str, typed: str) -> None:
    page = spare.post(ORCHARD, data=form_of(spare.get(ORCHARD)) | {box: typed, "do": "look"})
    assert page.status_code == 422
    assert page.text.split(f'id="{box}-wrong">')[1].split("</p>")[0].strip()
    assert f'href="#{box}"' in page.text


@pytest.mark.parametrize("typed", ["130,5", "130.5", " 130.5 litres", "130,5 l"])
def test_numbers_are_read_the_way_people_write_them(client: TestClient, recipes: Path, typed: str) -> None:
    saved = client.post(ORCHARD, data=form_of(client.get(ORCHARD)) | {"litres": typed, "do": "save"})
    assert saved.status_code == 303
    assert "litres = 130.5\n" in (recipes / "orchard_rain.toml").read_text(encoding="utf-8")


def test_saving_keeps_comments_and_the_rest(client: TestClient, recipes: Path) -> None:
    before = (recipes / "orchard_rain.toml").read_text(encoding="utf-8")
    form = form_of(client.get(ORCHARD)) | {"line-2-amount": "2/3 cup", "do": "save"}
    assert client.post(ORCHARD, data=form).headers["location"] == f"{ORCHARD}?done=saved#saved"
    after = (recipes / "orchard_rain.toml").read_text(encoding="utf-8")
    assert after == before.replace('amount = "1/2 cup"', 'amount = "2/3 cup"')


def test_windows_line_ends_stay(client: TestClient, recipes: Path) -> None:
    file = recipes / "orchard_rain.toml"
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    form = form_of(client.get(ORCHARD)) | {"line-2-amount": "2/3 cup", "do": "save"}
    assert client.post(ORCHARD, data=form).status_code == 303
    raw = file.read_bytes()
    assert b'"2/3 cup"' in raw
    assert raw.count(b"\n") == raw.count(b"\r\n")


def test_a_change_made_elsewhere_is_not_written_over(client: TestClient, recipes: Path) -> None:
    form = form_of(client.get(ORCHARD)) | {"line-0-amount": "2 cup", "do": "save"}
    file = recipes / "orchard_rain.toml"
    theirs = file.read_text(encoding="utf-8").replace("3/4 cup", "1 cup")
    file.write_text(theirs, encoding="utf-8")
    page = client.post(ORCHARD, data=form)
    assert page.status_code == 409
    assert file.read_text(encoding="utf-8") == theirs
    assert "2 cup" in page.text, "mine is shown"
    assert "&#34;1 cup&#34;" in page.text, "theirs is shown"
    chosen = client.post(f"{ORCHARD}/document", data=form_of(page) | {"do": "save"})
    assert chosen.status_code == 303
    assert 'amount = "2 cup"' in file.read_text(encoding="utf-8")


def test_a_line_is_added_taken_out_and_put_back(client: TestClient, recipes: Path) -> None:
    page = client.post(ORCHARD, data=form_of(client.get(ORCHARD)) | {"do": "add"})
    assert page.text.count(" autofocus") == 1
    page = client.post(ORCHARD, data=form_of(page) | {"do": "out-2"})
    assert page.status_code == 200
    assert "Took out corn starch" in page.text
    assert page.text.split('id="back-2"')[1].split(">")[0].endswith(" autofocus")
    back = client.post(ORCHARD, data=form_of(page) | {"do": "back-2"})
    assert "Took out" not in back.text
    assert page.text.count(" autofocus") == 1
    form = form_of(page) | {"line-10-use": "jojoba_oil", "line-10-amount": "1 tsp", "do": "save"}
    assert client.post(ORCHARD, data=form).status_code == 303
    after = (recipes / "orchard_rain.toml").read_text(encoding="utf-8")
    assert "corn_starch" not in after
    assert 'use = "jojoba_oil"\namount = "1 tsp"' in after
    assert after.startswith("# Our Saturday classic.")


def test_a_name_may_stand_for_an_id(client: TestClient, recipes: Path) -> None:
    form = form_of(client.get(ORCHARD)) | {"line-7-use": "Sweet Orange", "line-6-use": "Cardamom", "do": "save"}
    form["line-6-lot"] = ""
    assert client.post(ORCHARD, data=form).status_code == 303
    assert 'use = "cardamom"\namount = "7 drops"' in (recipes / "orchard_rain.toml").read_text(encoding="utf-8")


def test_problems_after_a_line_taken_out_stand_at_the_right_box(spare: TestClient) -> None:
    form = form_of(spare.get(ORCHARD)) | {"line-0-out": "1", "line-3-amount": "lots"}
    page = spare.post(ORCHARD, data=form | {"do": "look"})
    assert 'href="#line-3-amount"' in page.text
    assert 'href="#line-2-amount"' not in page.text


def test_leave_on_reading_names_more_allergens(spare: TestClient) -> None:
    form = form_of(spare.get(ORCHARD))
    rinse = spare.post(ORCHARD, data=form | {"do": "look"}).text
    leave = spare.post(ORCHARD, data=form | {"do": "look", "leave_on": "1"}).text
    assert "named from 0.01" in rinse
    assert "named from 0.001" in leave
    assert leave.count("named from") > rinse.count("named from")


def test_resizing_to_a_count_stands_in_the_form_unsaved(client: TestClient, recipes: Path) -> None:
    before = (recipes / "orchard_rain.toml").read_bytes()
    page = client.post(ORCHARD, data=form_of(client.get(ORCHARD)) | {"size_count": "8", "do": "size-count"})
    assert page.status_code == 200
    assert "Not saved yet" in page.text
    assert form_of(page)["count"] == "8"
    assert (recipes / "orchard_rain.toml").read_bytes() == before
    assert client.post(ORCHARD, data=form_of(page) | {"do": "save"}).status_code == 303
    assert "count = 8" in (recipes / "orchard_rain.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("how", "typed", "box"),
    [
        ("size-count", {"size_count": "several"}, "size_count"),
        ("size-total", {"size_total": "a lot"}, "size_total"),
        ("size-bag", {"size_use": "citric_acid", "size_left": "2 cups"}, "size_left"),
    ],
)
def test_resizing_says_what_it_could_not_read(spare: TestClient, how: str, typed: dict[str, str], box: str) -> None:
    page = spare.post(ORCHARD, data=form_of(spare.get(ORCHARD)) | typed | {"do": how})
    assert page.status_code == 422
    assert page.text.split(f'id="{box}-wrong">')[1].split("</p>")[0].strip()


@pytest.mark.parametrize(
    ("how", "typed"),
    [
        ("size-total", {"size_total": "900 g"}),
        ("size-whole", {}),
        ("size-bag", {"size_use": "citric_acid", "size_left": "100 g"}),
    ],
)
def test_other_ways_to_resize(spare: TestClient, how: str, typed: dict[str, str]) -> None:
    page = spare.post(ORCHARD, data=form_of(spare.get(ORCHARD)) | typed | {"do": how})
    assert page.status_code == 200
    assert "Not saved yet" in page.text


def test_scripts_in_names_stay_text(client: TestClient) -> None:
    form = form_of(client.get(ORCHARD)) | {"name": "<script>alert(1)</script>"}
    page = client.post(ORCHARD, data=form | {"do": "look"})
    assert "<script>alert" not in page.text
    assert "&lt;script&gt;alert(1)" in page.text


def test_a_form_of_nonsense_is_no_traceback(spare: TestClient) -> None:
    for data in ({}, {"lines": "999999999"}, {"lines": "3", "line-0-was": "77", "do": "save"}, {"do": "out-9"}):
        assert spare.post(ORCHARD, data=data).status_code < 500


def test_the_first_figures_of_a_powder_speak_of_baths(spare: TestClient) -> None:
    powder = spare.get("/recipes/drift").text.split('<dl class="glance">')[1].split("</dl>")[0]
    assert "<dt>A bath</dt>" in powder
    assert "<dt>A piece" not in powder


def test_a_word_in_place_of_a_number_is_repeated_with_what_is_allowed(spare: TestClient) -> None:
    page = spare.post(ORCHARD, data=form_of(spare.get(ORCHARD)) | {"litres": "hot", "do": "look"})
    beside = page.text.split('id="litres-wrong">')[1].split("</p>")[0]
    assert beside.startswith("Read: &#34;hot&#34;. Write a number from ")


def test_pressing_save_twice_is_saving_once(client: TestClient, recipes: Path) -> None:
    form = form_of(client.get(ORCHARD)) | {"line-0-amount": "2 cup", "do": "save"}
    assert client.post(ORCHARD, data=form).status_code == 303
    once = (recipes / "orchard_rain.toml").read_bytes()
    assert client.post(ORCHARD, data=form).status_code == 303
    assert (recipes / "orchard_rain.toml").read_bytes() == once


def test_a_file_deleted_meanwhile_is_written_again(client: TestClient, recipes: Path) -> None:
    form = form_of(client.get(ORCHARD)) | {"line-0-amount": "2 cup", "do": "save"}
    (recipes / "orchard_rain.toml").unlink()
    assert client.post(ORCHARD, data=form).status_code == 303
    assert 'amount = "2 cup"' in (recipes / "orchard_rain.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("content", [b"", b"solid nothing\nendsolid nothing\n", b"\x00" * 84, b"not a mesh"])
def test_a_mesh_that_cannot_be_measured_is_said_beside_the_mould(
    client: TestClient, recipes: Path, content: bytes
) -> None:
    (recipes / "odd.stl").write_bytes(content)
    page = client.post(ORCHARD, data=form_of(client.get(ORCHARD)) | {"mould": "mesh:odd.stl", "do": "look"})
    assert page.status_code == 422
    assert page.text.split('id="mould-wrong">')[1].split("</p>")[0].strip()


_typed = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)
_amounts = st.one_of(
    _typed, st.from_regex(r"[0-9]{0,6}[ ./,]?[0-9½¼]{0,4} ?(g|kg|cups?|tsp|drops|%|parts|)", fullmatch=True)
)
_boxes = st.sampled_from(
    [
        "name",
        "kind",
        "count",
        "litres",
        "water",
        "made_on",
        "mould",
        "sold_in",
        "line-0-use",
        "line-0-part",
        "line-6-lot",
    ]
)


@given(st.dictionaries(_boxes, _typed, max_size=4), st.lists(_amounts, min_size=10, max_size=10))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_is_typed_gets_figures_or_words(spare: TestClient, boxes: dict[str, str], amounts: list[str]) -> None:
    form = form_of(spare.get(ORCHARD)) | boxes | {f"line-{i}-amount": a for i, a in enumerate(amounts)}
    page = spare.post(ORCHARD, data=form | {"do": "look"})
    assert page.status_code in (200, 422)
    assert ("To put right" in page.text) == (page.status_code == 422)
