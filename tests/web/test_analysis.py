"""Bringing a laboratory's table in by the page: read, confirmed, kept, and known to the recipes at once."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from fizzwright.catalogue import open_workshop
from fizzwright.demo import folder
from fizzwright.web.app import create_app

REPORT = (folder() / "reports/LV-2608-01.csv").read_bytes()


def fields_of(text: str) -> dict[str, Any]:
    """The fields of the confirming form, as a browser would post them."""

    class Reader(HTMLParser):
        def __init__(self) -> None:
            super().__init__()
            self.fields: dict[str, str] = {}
            self.select = ""

        def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
            given = {name: value or "" for name, value in attributes}
            if tag == "input" and given.get("type") != "checkbox" and given.get("name"):
                self.fields[given["name"]] = given.get("value", "")
            elif tag == "select":
                self.select = given["name"]
            elif tag == "option" and (dict(attributes).get("selected", "no") != "no" or self.select not in self.fields):
                self.fields[self.select] = given["value"]

    reader = Reader()
    reader.feed(text)
    return reader.fields


def bring(client: TestClient, raw: bytes = REPORT, name: str = "LV-2608-01.csv", **data: str) -> Any:
    return client.post("/lots", data={"oil": "", **data}, files={"report": (name, raw)})


def test_a_report_is_read_confirmed_and_kept(client: TestClient, tmp_path: Path) -> None:
    page = bring(client)
    assert page.status_code == 200
    assert "limonene + 1,8-cineole" in page.text and "nobody can part it" in page.text
    assert "Area % = the percent" in page.text and "camphor 2.4 % is above" in page.text
    lots = tmp_path / "quillmoor/lots"
    assert not (lots / "LV-2608-01.csv").exists()
    form = fields_of(page.text)
    assert (form["oil"], form["lot"]) == ("lavender", "LV-2608-01")
    kept = client.post("/lots/confirm", data=form | {"do": "keep", "supplier": "Greenbank Oils"})
    assert kept.headers["location"] == "/lots?done=LV-2608-01", kept.text
    analysis = open_workshop(tmp_path / "quillmoor")[1].lot_analyses["LV-2608-01"]
    assert {s.constituent: s.typical_pct for s in analysis.shares}["linalool"] == 33.4
    listed = client.get(kept.headers["location"]).text
    assert "LV-2608-01" in listed and "is kept" in listed
    assert "LV-2608-01" in client.get("/catalogue/oil/lavender").text


def test_an_answer_of_the_makers_is_taken(client: TestClient, tmp_path: Path) -> None:
    form = fields_of(bring(client).text)
    (place,) = (k.removeprefix("peak-") for k, v in form.items() if v == "Lavendulyl acetate")
    client.post("/lots/confirm", data=form | {f"answer-{place}": "none", "do": "keep"})
    analysis = open_workshop(tmp_path / "quillmoor")[1].lot_analyses["LV-2608-01"]
    assert "lavandulyl acetate" not in {s.constituent for s in analysis.shares}
    # 3.4 % of the report, beside the unknown sesquiterpene and epi-alpha-bisabolol below 0.1 %
    assert analysis.unnamed_pct == pytest.approx(3.4 + 0.3 + 0.05)


def test_a_lot_that_is_there_is_replaced_only_when_told(client: TestClient, tmp_path: Path) -> None:
    form = fields_of(bring(client).text) | {"do": "keep"}
    client.post("/lots/confirm", data=form)
    path = tmp_path / "quillmoor/lots/LV-2608-01.csv"
    before = path.read_bytes()
    again = client.post("/lots/confirm", data=form | {"supplier": "Other"})
    assert again.status_code == 422 and path.read_bytes() == before
    assert 'name="replace"' in again.text and 'href="#lot"' in again.text
    assert client.post("/lots/confirm", data=form | {"supplier": "Other", "replace": "1"}).status_code == 303
    assert path.read_bytes() != before


@pytest.mark.parametrize(
    ("raw", "name", "said"),
    [
        (b"", "a.csv", "empty"),
        (bytes(range(256)) * 40, "a.xlsx", "no table of text holds"),
        (b"PK\x03\x04" + b"x" * 100, "a.xlsx", "damaged"),
        (b"Compound,CAS\nLinalool,78-70-6\n", "a.csv", "percent column"),
        (b"Compound,%\nLinalool,70\nLinalyl acetate,60\n", "a.csv", "add up to 130 %"),
        (b"Compound,%\nLinalool,-3\n", "a.csv", "Less than nothing"),
        (b"a,%\n" + b"x,1\n" * 500_000, "a.csv", "more than 2000 rows"),
        (b"x" * 2_600_000, "a.csv", "2.5 MB"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_with_the_reason(
    spare: TestClient, raw: bytes, name: str, said: str
) -> None:
    page = bring(spare, raw, name)
    assert page.status_code == 422
    assert said in page.text.replace("&#39;", "'")


@pytest.mark.parametrize(
    ("change", "box"),
    [({"lot": ""}, "#lot"), ({"lot": "../../x;y"}, "#lot"), ({"oil": "lavendar"}, "#oil"), ({"table": "x"}, "#report")],
)
def test_a_wrong_lot_or_oil_is_said_beside_its_box(spare: TestClient, change: dict[str, str], box: str) -> None:
    form = fields_of(bring(spare).text)
    page = spare.post("/lots/confirm", data=form | change | {"do": "keep"})
    assert page.status_code == 422
    assert f'href="{box}"' in page.text


def test_names_of_a_report_are_text_and_not_markup(spare: TestClient) -> None:
    page = bring(spare, b"Compound,%\n<script>alert(1)</script>,40\nLinalool,30\n", "<b>.csv")
    assert "<script>alert" not in page.text and "&lt;script&gt;alert" in page.text


def test_the_page_of_an_oil_leads_to_its_lots(spare: TestClient) -> None:
    page = spare.get("/catalogue/oil/sweet_orange").text
    assert "SO-2411-02" in page and 'href="/lots?oil=sweet_orange"' in page
    assert '<option value="sweet_orange" selected>' in spare.get("/lots?oil=sweet_orange").text


def test_the_recipe_says_when_a_lot_is_of_another_oil(client: TestClient, recipes: Path) -> None:
    path = recipes / "orchard_rain.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace('use = "sweet_orange"', 'use = "grapefruit"'), encoding="utf-8"
    )
    app = create_app(recipes.parent)
    page = TestClient(app, base_url="http://127.0.0.1:8765").get("/recipes/orchard_rain").text
    assert "Lot SO-2411-02 is held as a lot of sweet orange" in page
