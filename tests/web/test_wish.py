"""The Wish page: the form as a goal document, searches in the background, and what comes of them."""

from __future__ import annotations

import html
import re
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from fizzwright.catalogue import open_workshop
from fizzwright.demo import folder
from fizzwright.design.composed import Composed, Conflict
from fizzwright.design.glimpse import Glimpse
from fizzwright.design.goal import Window
from fizzwright.design.reading import read_goal_text
from fizzwright.web.wish_jobs import KEPT_S, MOST_KEPT, MOST_RUNNING, Busy, Jobs, Latest
from tests.web.wish_hands import WISH, answered, by_hand, glimpsed


def seen(response: Any) -> str:
    return html.unescape(re.sub(r"[ \n\t]+", " ", re.sub(r"<[^>]+>", " ", response.text)))


def with_hands(client: TestClient, compose: Any = by_hand) -> TestClient:
    app: Any = client.app
    app.state.wishes.compose = compose
    app.state.wishes.glimpse = glimpsed
    return client


def search(client: TestClient, **boxes: Any) -> str:
    """Start a search and wait until it is done; its address."""
    begun = client.post("/wish", data={**WISH, **boxes, "do": "compose"})
    assert begun.status_code == 303, seen(begun)
    return finished(client, begun.headers["location"].partition("#")[0])


def finished(client: TestClient, address: str) -> str:
    until = time.monotonic() + 20
    while 'hx-trigger="every' in client.get(address).text:
        assert time.monotonic() < until, "the search did not end"
        time.sleep(0.02)
    return address


def document(client: TestClient, **boxes: Any) -> str:
    sent = client.post("/wish", data={**WISH, **boxes, "do": "download"})
    assert sent.status_code == 200, seen(sent)
    assert "attachment" in sent.headers["content-disposition"]
    return str(sent.text)


def test_the_form_is_a_goal_document_the_command_reads(client: TestClient) -> None:
    catalogue, workshop = open_workshop(folder())
    text = document(
        client, cost="0,45", ph_settled_low="6.8", ph_settled_high="7.6", gas_l_low="5 litres", clay_pct_high="10 %",
        oils="sweet orange 60, Cedarwood (Atlas) 40", total_pct_low="0,4", avoid="talc; cocoa butter", allergens="citral",
        groups=["nuts", "animal"], sold_in=["eu", "uk"], stock="citric acid 500 g\nSodium bicarbonate: 1200",
        stock_only="1", chance="99", amounts="spoons", drawer="1 cup, 1/2 tsp", hardness="firm", colour="none",
        made_on="2026-11-25", limit_share="50", litres="140", most_oils="4",
    )  # fmt: skip
    goal = read_goal_text(text, catalogue, workshop=workshop)
    assert goal.makes.mould == "sphere_65" and goal.makes.count == 6
    assert goal.cost_most_minor == 45 and goal.chance == pytest.approx(0.99)
    assert goal.ph_settled == Window(6.8, 7.6) and goal.gas_l == Window(5.0, None) and goal.clay_pct == Window(None, 10)
    assert goal.scent.families == {"citrus": 3, "woody": 2} and goal.scent.oils == {
        "sweet_orange": 60,
        "cedarwood_atlas": 40,
    }
    assert goal.scent.total_pct == Window(0.4, None) and goal.scent.most_oils == 4
    assert set(goal.avoid_materials) == {"talc", "cocoa_butter"} and goal.avoid_allergens == ("Citral",)
    assert set(goal.avoid_groups) == {"nuts", "animal"} and set(goal.sold_in) == {"eu", "uk"}
    assert goal.stock_only and goal.stock_g == {"citric_acid": 500, "sodium_bicarbonate": 1200}
    assert goal.measured_in == "spoons" and goal.spoons == ("1 cup", "1/2 tsp") and goal.hardness_at_least == "firm"
    assert goal.limit_share == 0.5 and goal.tub.litres == 140 and goal.made_on is not None


@pytest.mark.parametrize(
    ("box", "typed", "said"),
    [
        ("cost", "cheap", "Write one number"),
        ("cost", "0.30 or 0.40", "Write one number"),
        ("cost", "-1", "cannot cost less than nothing"),
        ("count", "2.5", "whole number"),
        ("count", "", "count"),
        ("made_on", "tomorrow", "2026-11-25"),
        ("ph_settled_low", "15", "out of range"),
        ("avoid", "talk", "talc"),
        ("allergens", "limonen", "Limonene"),
        ("stock", "citric acid", "and its grams"),
        ("chance", "100", "Allowed"),
        ("mould", "sphere_66", "sphere_65"),
        ("oils", "sweet oringe 3", "sweet_orange"),
    ],
)
def test_what_cannot_be_read_is_said_beside_its_box(spare: TestClient, box: str, typed: str, said: str) -> None:
    page = spare.post("/wish", data={**WISH, "smell_2": "woody", box: typed, "do": "compose"})
    assert page.status_code == 422 and "<title>Error: Wish" in page.text
    beside = re.search(rf'id="{box}-wrong">(.*?)</p>', page.text, re.DOTALL)
    assert beside and said in html.unescape(beside[1])
    assert f'href="#{box}"' in page.text, "the summary leads to the box"
    assert html.escape(typed) in page.text, "what was typed is still there"


def test_the_document_is_shown_and_its_words_are_escaped(spare: TestClient) -> None:
    page = spare.post("/wish", data={**WISH, "name": "<script>alert(1)</script>", "do": "document"})
    assert page.status_code == 200 and "<script>alert" not in page.text
    assert "families = {citrus = 3, woody = 2}" in html.unescape(page.text)


def test_an_answer_stands_beside_the_wish(client: TestClient) -> None:
    page = client.get(search(with_hands(client)))
    text = seen(page)
    assert "No recipe inside these demands comes nearer to the wish; proven." in text
    assert "citrus 61 %, woody 39 %" in text and "£0.41" in text
    assert "5 % more money would bring the scent nearer" in text
    for differs in ("Oat in place of starch", "No cardamom", "Cream of tartar in place of some acid"):
        assert differs in text
    assert "sodium bicarbonate" in text and "citric acid" in text
    assert 'value="Harbour Light"' in page.text and '<option value="woody" selected>' in page.text
    assert re.search(r'<a href="/wish" aria-current="page">', page.text)


def test_an_answer_is_kept_and_never_written_over(client: TestClient, recipes: Path) -> None:
    address = search(with_hands(client))
    kept = client.post(f"{address}/keep", data={"name": "Harbour Light", "which": "0", "do": "keep"})
    assert kept.status_code == 303
    text = (recipes / "harbour_light.toml").read_text()
    assert 'name = "Harbour Light"' in text
    assert 'href="/recipes/harbour_light"' in client.get(kept.headers["location"]).text
    opened = client.post(f"{address}/keep", data={"name": "Harbour Lamp", "which": "2", "do": "open"})
    assert opened.headers["location"].startswith("/recipes/harbour_lamp")
    assert client.get(opened.headers["location"]).status_code == 200
    before = (recipes / "pebbles.toml").read_bytes()
    refused = client.post(f"{address}/keep", data={"name": "Pebbles", "which": "0", "do": "keep"})
    assert refused.status_code == 422 and "left alone" in seen(refused)
    assert (recipes / "pebbles.toml").read_bytes() == before
    for name in ("", "x" * 101):
        assert "1 to 100 characters" in seen(client.post(f"{address}/keep", data={"name": name, "which": "0"}))
    assert client.post(f"{address}/keep", data={"name": "No", "which": "9"}).status_code == 404
    assert "../" not in client.post(f"{address}/keep", data={"name": "../../etc", "which": "0"}).headers["location"]


def test_a_conflict_is_told_with_what_would_mend_it(client: TestClient) -> None:
    address = search(
        with_hands(client), cost="0.10", ph_settled_low="6.8", ph_settled_high="7.0", allergens="Citral, Limonene",
        **{"with": "Kaolin; sea salt"}, amounts="spoons", drawer="1 cup", groups=["nuts", "animal"], most_oils="2",
        hardness="firm",
    )  # fmt: skip
    page = client.get(address)
    text = seen(page)
    assert "Not all of this can hold" in text and "The bath settles at pH 6.8 to 7.0." in text
    assert text.count("Put this in the form") == 8, "none where no box holds the demand"
    boxes = {
        0: ("cost", "0.17"), 1: ("ph_settled_high", "7.3"), 2: ("allergens", "Citral"), 4: ("with", "sea salt"),
        5: ("drawer", ""), 7: ("most_oils", "3"),
    }  # fmt: skip
    for at, (box, value) in boxes.items():
        eased = client.get(f"{address}?ease={at}").text
        assert re.search(rf'name="{box}" value="{value}"', eased), box
        assert 'name="ph_settled_low" value="6.8"' in eased, "the other end stays"
    assert '<option value="grams" selected>' in client.get(f"{address}?ease=5").text
    assert 'value="nuts">' in client.get(f"{address}?ease=6").text, "no longer ticked"
    assert 'value="animal" checked>' in client.get(f"{address}?ease=6").text
    assert '<option value="" selected>does not matter' in client.get(f"{address}?ease=8").text
    assert client.get(f"{address}?ease=9").status_code == 404


def test_a_demand_no_recipe_keeps_is_told_alone(client: TestClient) -> None:
    alone = Composed(None, None, None, True, False, conflict=Conflict(("fizz.gas_l",), ("gas in a piece",), ()))
    text = seen(client.get(search(with_hands(client, lambda *_: alone))))
    assert "no recipe keeps this, whatever the rest" in text and "all hold at once" not in text


class Patient:
    """Composes until it is told to stop, or let go."""

    def __init__(self) -> None:
        self.go, self.stopped = threading.Event(), False

    def __call__(self, goal: Any, bench: Any, say: Any = None, stop: Any = None, brief: bool = False) -> Composed:
        by_hand(goal, bench, say, stop)
        while not self.go.wait(0.01):
            if stop and stop():
                self.stopped = True
                return answered(stopped=True)
        return answered()


def test_a_search_tells_how_it_goes_and_stops_with_the_best_so_far(client: TestClient) -> None:
    patient = Patient()
    with_hands(client, patient)
    address = client.post("/wish", data=WISH).headers["location"].partition("#")[0]
    until = time.monotonic() + 10
    while "Looking among 41 materials" not in (page := client.get(address).text):
        assert time.monotonic() < until
    assert '<noscript><meta http-equiv="refresh"' in page, "without script the page asks again by itself"
    live = client.get(f"{address}/live")
    assert "seconds so far" in live.text and "hx-retarget" not in live.headers
    again = client.post("/wish", data=WISH)
    assert again.headers["location"].partition("#")[0] == address, "the same wish twice is one search"
    assert f'href="{address}"' in client.get("/wish").text, "a lost page finds its search again"
    client.post(f"{address}/stop")
    finished(client, address)
    assert patient.stopped
    assert "Stopped before it was proven" in seen(client.get(address))
    done = client.get(f"{address}/live")
    assert done.headers["hx-retarget"] == "#wish-answer" and "Keep as a recipe" in done.text
    assert client.post("/wish", data=WISH).headers["location"].partition("#")[0] != address, (
        "a stopped one can be begun anew"
    )


def test_more_than_a_few_at_once_are_refused_and_nothing_typed_is_lost(client: TestClient) -> None:
    patient = Patient()
    with_hands(client, patient)
    for place in range(MOST_RUNNING):
        assert client.post("/wish", data={**WISH, "count": str(place + 1)}).status_code == 303
    page = client.post("/wish", data={**WISH, "count": "12", "cost": "0.77"})
    assert page.status_code == 503 and "3 searches are running already" in seen(page) and 'value="0.77"' in page.text
    patient.go.set()


def test_a_fault_of_ours_is_said_in_words(client: TestClient) -> None:
    def broken(*_: Any) -> Composed:
        raise RuntimeError("index out of range at 0x7f")

    text = seen(client.get(search(with_hands(client, broken))))
    assert "a fault of the program, not of yours" in text and "0x7f" not in text


def test_the_quick_word_while_one_types(client: TestClient) -> None:
    with_hands(client)
    look = client.post("/wish/look", data=WISH)
    assert "Can be done" in seen(look) and 'id="cost-wrong" hx-swap-oob="true"' in look.text
    assert "The bath settles at pH 6.8 to 7.0." in seen(client.post("/wish/look", data={**WISH, "cost": "0.10"}))
    wrong = client.post("/wish/look", data={**WISH, "cost": "a few"})
    assert "Not read yet" in seen(wrong) and "Write one number" in seen(wrong)
    app: Any = client.app
    app.state.wishes.glimpse = lambda *_: Glimpse(None)
    assert "Not known yet" in seen(client.post("/wish/look", data=WISH))


def test_a_newer_look_ends_the_older() -> None:
    latest, order, inside = Latest(), [], threading.Event()

    def first(stopped: Any) -> str:
        inside.set()
        while not stopped():
            time.sleep(0.005)
        order.append("first stopped")
        return "first"

    older = threading.Thread(target=lambda: latest.look(first, 30))
    older.start()
    assert inside.wait(5)
    assert latest.look(lambda _: order.append("second") or "second", 30) == "second"
    older.join(5)
    assert order == ["first stopped", "second"]
    assert latest.look(lambda stopped: stopped(), -1.0) is True, "time is up at once"


def test_the_trade_off_is_a_picture_of_links_with_its_numbers(client: TestClient) -> None:
    address = search(with_hands(client))
    for along in ("cost", "limit"):
        assert client.post(f"{address}/weigh", data={"along": along}).status_code == 303
        finished(client, address)
    page = client.get(address).text
    for along, many in (("cost", 7), ("limit", 7)):
        links = re.findall(rf'<a href="({address}/{along}/\d)" aria-label="Choose ([^"]+)"', page)
        assert len(links) == many
        assert page.count(f"{address}/{along}/") == 2 * many, "each point is in the table too"
    assert client.post(f"{address}/weigh", data={"along": "weight"}).status_code == 404


def test_choosing_a_point_puts_its_demand_into_the_form_and_composes(client: TestClient) -> None:
    address = search(with_hands(client))
    for along in ("cost", "limit"):
        client.post(f"{address}/weigh", data={"along": along})
        finished(client, address)
    chosen = client.get(f"{address}/cost/2")
    assert chosen.status_code == 303
    page = client.get(chosen.headers["location"].partition("#")[0]).text
    assert 'name="cost" value="0.40"' in page and 'name="gas_l_low" value="4.5"' in page
    assert '<option value="cheapest" selected>' in page
    again = client.get(f"{address}/cost/2")
    assert again.headers["location"] == chosen.headers["location"], "asking twice composes once"
    page = client.get(client.get(f"{address}/limit/3").headers["location"].partition("#")[0]).text
    assert 'name="limit_share" value="24.75"' in page and '<option value="most_scent" selected>' in page
    for gone in ("cost/7", "limit/x", "weight/0"):
        assert client.get(f"{address}/{gone}").status_code == 404


def test_what_is_not_kept_any_more_says_so(spare: TestClient) -> None:
    for path in ("/wish/nothing", "/wish/nothing/live", "/wish/nothing/cost/0"):
        page = spare.get(path)
        assert page.status_code == 404 and "no longer kept" in seen(page)
    assert spare.post("/wish/nothing/stop").status_code == 404


def test_another_site_cannot_start_or_keep_anything(client: TestClient, recipes: Path) -> None:
    address = search(with_hands(client))
    elsewhere = {"origin": "https://elsewhere.example", "sec-fetch-site": "cross-site"}
    before = sorted(p.name for p in recipes.iterdir())
    for path, data in (
        ("/wish", WISH),
        (f"{address}/keep", {"name": "Stolen"}),
        (f"{address}/weigh", {"along": "cost"}),
    ):
        assert client.post(path, data=data, headers=elsewhere).status_code == 403
    assert sorted(p.name for p in recipes.iterdir()) == before


def test_old_searches_are_forgotten_and_running_ones_never() -> None:
    now = [0.0]
    jobs, hold = Jobs(lambda: now[0]), threading.Event()
    running = jobs.start("slow", "slow", None, lambda say, stop: hold.wait(30))
    done = jobs.start("quick", "quick", None, lambda say, stop: "found")
    until = time.monotonic() + 10
    while done.is_running:
        assert time.monotonic() < until
        time.sleep(0.005)
    now[0] = KEPT_S - 1
    assert jobs.get(done.id) is done and done.outcome == "found"
    now[0] = KEPT_S + 1
    assert jobs.get(done.id) is None and jobs.get(running.id) is running
    for place in range(MOST_KEPT + 10):
        job = jobs.start("many", f"many {place}", None, lambda say, stop: None)
        while job.is_running:
            time.sleep(0.001)
    assert len(jobs.all()) <= MOST_KEPT + 1 and jobs.get(running.id) is running
    for place in range(MOST_RUNNING - 1):
        jobs.start("more", f"more {place}", None, lambda say, stop: hold.wait(30))
    with pytest.raises(Busy, match="Stop one of them"):
        jobs.start("last", "last", None, lambda say, stop: None)
    hold.set()
