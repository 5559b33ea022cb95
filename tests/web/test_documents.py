"""The list, new recipes, uploads, plain text, downloads, print and card."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.web.conftest import form_of


def test_the_list_names_every_recipe_with_its_verdict(spare: TestClient) -> None:
    page = spare.get("/")
    assert page.status_code == 200
    for name in ("Orchard Rain", "Hearth", "Noon", "Drift", "Paddling Pool"):
        assert name in page.text
    hearth = page.text.split(">Hearth<")[1].split("</li>")[0]
    assert "Stop" in hearth
    assert "Cinnam" in hearth


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"name = ", "TOML"),
        (b"\xff\xfe\x00", "UTF-16"),
        (b'name = "X"\nkind = "soap"\n[[line]]\nuse = "citric_acid"\namount = "1 g"\n', "soap"),
        (b"x" * 1_100_000, "1 MB"),
    ],
)
def test_a_file_that_cannot_be_read_is_listed_with_its_reason(
    client: TestClient, recipes: Path, content: bytes, said: str
) -> None:
    (recipes / "broken.toml").write_bytes(content)
    page = client.get("/")
    assert page.status_code == 200
    broken = page.text.split(">broken<")[1].split("</li>")[0]
    assert "Needs a change" in broken
    assert said in broken
    assert client.get("/recipes/broken").status_code == 200
    assert (recipes / "broken.toml").read_bytes() == content


def test_a_new_recipe_gets_a_file_of_its_name(client: TestClient, recipes: Path) -> None:
    made = client.post("/recipes", data={"new_name": "Low Water", "copy_of": ""})
    assert made.headers["location"] == "/recipes/low_water?done=new"
    assert 'name = "Low Water"' in (recipes / "low_water.toml").read_text(encoding="utf-8")
    assert client.get(made.headers["location"]).status_code == 200


def test_a_copy_keeps_the_lines(client: TestClient, recipes: Path) -> None:
    client.post("/recipes", data={"new_name": "Second Orchard", "copy_of": "orchard_rain"})
    first = (recipes / "orchard_rain.toml").read_text(encoding="utf-8")
    assert (recipes / "second_orchard.toml").read_text(encoding="utf-8") == first.replace(
        '"Orchard Rain"', '"Second Orchard"'
    )


@pytest.mark.parametrize("name", ["Orchard Rain", "orchard  rain", ""])
def test_a_taken_or_empty_name_is_refused_and_nothing_is_written_over(
    client: TestClient, recipes: Path, name: str
) -> None:
    before = {p: p.read_bytes() for p in recipes.iterdir()}
    page = client.post("/recipes", data={"new_name": name})
    assert page.status_code == 422
    assert 'href="#new_name"' in page.text
    assert {p: p.read_bytes() for p in recipes.iterdir()} == before


@pytest.mark.parametrize("name", ["../../up", "/etc/passwd", "a/b", "..", "CON\\x", "🛁", "مطر البستان", "x" * 100])
def test_any_name_stays_in_the_folder(client: TestClient, recipes: Path, name: str) -> None:
    before = set(recipes.parent.rglob("*"))
    client.post("/recipes", data={"new_name": name})
    new = set(recipes.parent.rglob("*")) - before
    assert len(new) == 1
    assert new.pop().parent == recipes


def test_right_to_left_names_open(client: TestClient) -> None:
    made = client.post("/recipes", data={"new_name": "مطر البستان"})
    page = client.get(made.headers["location"])
    assert page.status_code == 200
    assert "مطر البستان" in page.text


@pytest.mark.parametrize(
    "stem", ["..%2forchard_rain", "%2e%2e%2f%2e%2e%2fworkshop", ".hidden", "a%00b", "nothing", "a%5cb"]
)
@pytest.mark.parametrize("tail", ["", "/document", "/document.toml", "/print", "/card.pdf"])
def test_no_name_leads_out_of_the_folder(spare: TestClient, stem: str, tail: str) -> None:
    answer = spare.get(f"/recipes/{stem}{tail}")
    assert answer.status_code in (404, 307)
    assert "labour_minor_per_hour" not in answer.text


def test_an_upload_is_kept_and_a_second_one_refused(client: TestClient, recipes: Path) -> None:
    text = (recipes / "drift.toml").read_bytes()
    sent = {"document": ("Evening Drift.toml", text)}
    assert client.post("/recipes/upload", files=sent).headers["location"] == "/recipes/evening_drift?done=brought"
    assert (recipes / "evening_drift.toml").read_bytes() == text
    again = client.post("/recipes/upload", files={"document": ("Evening Drift.toml", text + b"# other\n")})
    assert again.status_code == 422
    assert "already a recipe" in again.text
    assert (recipes / "evening_drift.toml").read_bytes() == text


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("a.toml", b"", "empty"),
        ("a.toml", b"not = toml = at all", "TOML"),
        ("a.toml", b"\x80\x81", "UTF-8"),
        (
            "a.toml",
            b'name = "X"\nkind = "fizzer"\n[[line]]\nuse = "sodium_bicarbonat"\namount = "1 cup"\n',
            "sodium_bicarbonate",
        ),
        ("a.toml", b"#" * 1_000_001, "1 MB"),
        ("../../x.toml", b"", "empty"),
    ],
)
def test_a_refused_upload_says_why_and_leaves_nothing(
    client: TestClient, recipes: Path, name: str, content: bytes, said: str
) -> None:
    before = set(recipes.parent.rglob("*"))
    page = client.post("/recipes/upload", files={"document": (name, content)})
    assert page.status_code == 422
    assert said in page.text
    assert set(recipes.parent.rglob("*")) == before


def test_the_download_is_the_file(spare: TestClient) -> None:
    answer = spare.get("/recipes/orchard_rain/document.toml")
    assert answer.content == (spare.app.state.bench.shelf.folder / "orchard_rain.toml").read_bytes()
    assert "attachment" in answer.headers["content-disposition"]


def test_plain_text_is_refused_with_its_line_and_kept(client: TestClient, recipes: Path) -> None:
    page = client.get("/recipes/orchard_rain/document")
    form = form_of(page)
    form["text"] = form["text"].replace('"3/4 cup"', '"three quarters"')
    before = (recipes / "orchard_rain.toml").read_bytes()
    refused = client.post("/recipes/orchard_rain/document", data=form | {"do": "save"})
    assert refused.status_code == 422
    assert "three quarters" in refused.text
    assert "line " in refused.text
    assert (recipes / "orchard_rain.toml").read_bytes() == before
    form["text"] = form["text"].replace('"three quarters"', '"7/8 cup"')
    assert client.post("/recipes/orchard_rain/document", data=form | {"do": "save"}).status_code == 303
    assert b'"7/8 cup"' in (recipes / "orchard_rain.toml").read_bytes()


def test_tidy_shows_and_does_not_save(client: TestClient, recipes: Path) -> None:
    form = form_of(client.get("/recipes/orchard_rain/document"))
    form["text"] = form["text"].replace('"1 1/2 cup"', '"1½ cups"')
    before = (recipes / "orchard_rain.toml").read_bytes()
    page = client.post("/recipes/orchard_rain/document", data=form | {"do": "tidy"})
    assert '"1 1/2 cup"' in form_of(page)["text"]
    assert (recipes / "orchard_rain.toml").read_bytes() == before


def test_the_print_view_names_batch_versions_and_date(spare: TestClient) -> None:
    page = spare.get("/recipes/orchard_rain/print")
    assert page.status_code == 200
    for words in ("catalogue", "recipe", "printed 2026-11-25", "Batch", "Weigh out", "Steps"):
        assert words in page.text


@pytest.mark.parametrize("paper", ["a5", "a4"])
def test_the_card_is_a_pdf(spare: TestClient, paper: str) -> None:
    answer = spare.get(f"/recipes/orchard_rain/card.pdf?paper={paper}")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")
    assert spare.get("/recipes/orchard_rain/card.pdf?paper=banner").status_code == 404


def test_at_the_bowl_a_stopped_recipe_says_so_first(spare: TestClient) -> None:
    stopped = spare.get("/recipes/hearth/bowl").text
    assert "Do not make this yet" in stopped
    assert "Cinnam" in stopped
    assert "Do not make" not in spare.get("/recipes/orchard_rain/bowl").text


@pytest.mark.parametrize("step", ["0", "-1", "99999", "x", "1" * 5000, ""])
def test_a_step_that_is_not_there_is_the_first(spare: TestClient, step: str) -> None:
    page = spare.get("/recipes/orchard_rain/bowl", params={"step": step})
    assert page.status_code == 200
    assert "step 1 of" in page.text


def test_files_called_anything_are_listed_and_links_out_are_not(client: TestClient, recipes: Path) -> None:
    text = (recipes / "drift.toml").read_text(encoding="utf-8")
    (recipes / "A friend's best (2).toml").write_text(text, encoding="utf-8")
    (recipes / "folder.toml").mkdir()
    (recipes / "out.toml").symlink_to(recipes.parent / "workshop.toml")
    page = client.get("/")
    assert page.status_code == 200
    assert "/recipes/A%20friend%27s%20best%20%282%29" in page.text
    assert client.get("/recipes/A%20friend's%20best%20(2)").status_code == 200
    assert "/recipes/folder" not in page.text
    assert "/recipes/out" not in page.text
    assert client.get("/recipes/out").status_code == 404


def test_starting_the_same_recipe_twice_is_starting_it_once(client: TestClient) -> None:
    for _ in range(2):
        made = client.post("/recipes", data={"new_name": "Low Water"})
        assert made.headers["location"] == "/recipes/low_water?done=new"
