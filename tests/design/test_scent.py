"""More or less scent: the search against trying every count of drops, and a limit worked by hand."""

from __future__ import annotations

import pytest

from fizzwright.catalogue import load
from fizzwright.design import scent
from fizzwright.recipe.document import read_text
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review import Setting, review, skin
from fizzwright.review.kitchens import inside
from tests.design.everyday import recipe

BASE = "sodium_bicarbonate = 300 g\ncitric_acid = 150 g\ncorn_starch = 40 g\npolysorbate_80 = 20 g\n"


def drops(text: str, use: str) -> int:
    return next(int(line.amount.number or 0) for line in read_text(text, load()).lines if line.use == use)


def test_the_most_is_what_trying_every_drop_finds() -> None:
    before = recipe(BASE + "cinnamon_bark = 9 drops\n")
    changed = scent.most(before, load(), None, chance=0.9)
    fitting = []
    for count in range(76, 94):
        one = recipe(BASE + f"cinnamon_bark = {count} drops\n")
        mix = weigh(one, load())
        stopped = any(n.level == "stop" for n in skin.section(mix, load(), Setting()).notices)
        enough = inside(mix, load(), setting=Setting(), count=scent.KITCHENS).chance >= 0.9
        if not stopped and enough:
            fitting.append(count)
    assert fitting == list(range(76, max(fitting) + 1)) and max(fitting) < 93, (
        "what holds for more drops holds for fewer"
    )
    assert drops(changed.text, "cinnamon_bark") == max(fitting)
    assert changed.verdict != "stop" and any("What sets it" in note for note in changed.notes)


def test_no_limit_is_passed_when_worked_by_hand() -> None:
    # every limit in the catalogue that a typical level comes near: level = grams x share / cured grams
    changed = scent.most(recipe(BASE + "lemongrass = 5 drops\n"), load(), None, chance=0.5)
    mix = weigh(read_text(changed.text, load()), load())
    oil = next(m for m in mix.lines if m.id == "lemongrass")
    citral = sum(
        row.typical_pct or 0.0
        for row in load().oils["lemongrass"].constituents
        if row.constituent in ("geranial", "neral", "citral")
    )
    limit = next(
        x.limit_pct for x in load().limits if x.rule == "ifra" and x.substance.lower() == "citral" and x.category == "9"
    )
    assert limit is not None and citral > 50
    assert oil.grams * citral / float((mix.grams * mix.cured_fraction).sum()) <= limit


def test_more_chance_never_means_more_scent() -> None:
    before = recipe(BASE + "clove_bud = 8 drops\nsweet_orange = 12 drops\n")
    counts = [drops(scent.most(before, load(), None, chance=c).text, "clove_bud") for c in (0.5, 0.9, 0.99)]
    assert counts == sorted(counts, reverse=True)


def test_so_many_times_is_exact_in_whole_drops() -> None:
    before = recipe(BASE + "lavender = 8 drops\nsweet_orange = 1 g\n")
    half = scent.times(before, load(), None, "1/2")
    assert drops(half.text, "lavender") == 4
    grams = {m.id: m.grams for m in weigh(read_text(half.text, load()), load()).lines}
    assert grams["sweet_orange"] == pytest.approx(0.5) and grams["corn_starch"] == 40
    assert review(read_text(half.text, load()), load()).verdict == half.verdict


@pytest.mark.parametrize(("said", "says"), [("none", "read 'none'"), ("0", "above 0"), ("5000", "up to 1000")])
def test_a_number_nobody_means_is_refused(said: str, says: str) -> None:
    with pytest.raises(Refusal, match=says):
        scent.times(recipe(BASE + "lavender = 8 drops\n"), load(), None, said)


def test_what_has_no_scent_or_no_room_is_refused() -> None:
    with pytest.raises(Refusal, match="no essential oil"):
        scent.most(recipe(BASE), load(), None)
    with pytest.raises(Refusal, match="chance"):
        scent.most(recipe(BASE + "lavender = 8 drops\n"), load(), None, chance=1.0)
    with pytest.raises(Refusal, match="Not even the least"):
        tiny = "sodium_bicarbonate = 3 g\ncitric_acid = 1.5 g\noregano = 1 drops\ncinnamon_bark = 1 drops\n"
        scent.most(recipe(tiny), load(), None)
