"""The steps of the making: their order, what they leave out when the recipe does not need it, and their cautions.

The order is common practice, no source: colour and oil before acid, acid before the spray, rigid moulds emptied at once.
"""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from pathlib import Path

import pytest

import fizzwright.catalogue
from fizzwright.catalogue import load, open_workshop
from fizzwright.demo import folder
from fizzwright.recipe.document import read_file, read_text
from fizzwright.recipe.weigh import weigh
from fizzwright.review.figures import Section
from fizzwright.review.setting import Setting
from fizzwright.review.workshop import section

DEMOS = sorted((folder() / "recipes").glob("*.toml"))


def making(text: str) -> Section:
    catalogue = load()
    return section(weigh(read_text(text, catalogue), catalogue), catalogue, Setting())


def demo(stem: str) -> Section:
    catalogue = load()
    return section(weigh(read_file(folder() / "recipes" / f"{stem}.toml", catalogue), catalogue), catalogue, Setting())


def titles(made: Section) -> list[str]:
    return [step.title for step in made.steps]


def recipe(*lines: tuple[str, str], mould: str = "sphere_65", more: str = "") -> str:
    head = f'name = "Bench test"\nkind = "fizzer"\n[makes]\nmould = "{mould}"\n'
    return head + "".join(f'[[line]]\nuse = "{use}"\namount = "{amount}"\n{more}' for use, amount in lines)


PLAIN = (("sodium_bicarbonate", "200 g"), ("citric_acid", "100 g"), ("olive_oil", "10 g"))


@pytest.mark.parametrize("file", DEMOS, ids=lambda f: f.stem)
def test_every_line_of_every_demo_is_handled_and_acid_comes_after_all_but_the_spray(file: Path) -> None:
    made = demo(file.stem)
    catalogue = load()
    uses = {line.use for line in read_file(file, catalogue).lines}
    handled = [step for step in made.steps if step.title != "Weigh everything out"]
    assert {use for step in handled for use in step.lines} == uses
    order = titles(made)
    acid = order.index("Add the acid last")
    touched_later = {use for step in made.steps[acid + 1 :] for use in step.lines}
    assert all(catalogue.materials[use].function == "binder_liquid" for use in touched_later)


def test_the_steps_stand_in_the_order_of_the_trade() -> None:
    assert titles(demo("orchard_rain")) == [
        "Make the room ready",
        "Weigh everything out",
        "Sieve the dry things",
        "Melt, then let it cool",
        "Add the scent to the oil",
        "Work the oil into the base",
        "Add the fillers",
        "Test by squeezing",
        "Add the acid last",
        "Bind with a fine spray",
        "Press",
        "Turn it out at once",
        "Let it dry",
        "Wrap and label",
    ]


def test_only_the_steps_a_recipe_needs_are_there() -> None:
    plain = titles(making(recipe(*PLAIN)))
    for unneeded in (
        "Colour the dry base",
        "Melt, then let it cool",
        "Add the scent to the oil",
        "Bind with a fine spray",
    ):
        assert unneeded not in plain
    powder = titles(demo("drift"))
    assert "Press" not in powder
    assert "Fill the jar" in powder


def test_flexible_moulds_hold_their_pieces_and_rigid_ones_let_go() -> None:
    flexible = [m.id for m in load().moulds.values() if m.flexible and m.shape != "weight"]
    assert flexible
    assert "Let it set in the mould" in titles(making(recipe(*PLAIN, mould=flexible[0])))
    assert "Turn it out at once" in titles(making(recipe(*PLAIN)))


def test_the_core_is_pressed_before_its_shell_and_layers_go_in_as_numbered() -> None:
    order = titles(demo("lantern"))
    assert order.index("Press the core") < order.index("Press")
    (press,) = [s for s in demo("two_tides").steps if s.title == "Press"]
    assert press.text.index("layer 1") < press.text.index("layer 2")


def test_the_fat_cools_below_the_lowest_flash_point_the_tables_hold() -> None:
    made = demo("orchard_rain")
    with (Path(fizzwright.catalogue.__file__).parent / "data" / "oils.csv").open(newline="", encoding="utf-8") as file:
        flash = {row["id"]: row["flash_point_c"] for row in csv.DictReader(file)}
    lowest = min(float(flash[oil]) for oil in ("sweet_orange", "cardamom", "cedarwood_virginian"))
    cool = made.figure("cool_below_c").value
    assert isinstance(cool, float)
    assert cool < lowest
    (step,) = [s for s in made.steps if s.title.startswith("Melt")]
    assert f"{cool:.0f} °C" in step.text
    assert f"{lowest:g} °C" in step.text


def test_a_fat_that_sets_before_it_is_cool_enough_is_said() -> None:
    wax = (*PLAIN, ("beeswax", "8 g"), ("sweet_orange", "6 drops"))
    (notice,) = making(recipe(*wax)).notices
    assert notice.line == "beeswax"
    assert not demo("loft_heart").notices


def test_too_much_watery_binder_is_compared_with_practice() -> None:
    wet = making(recipe(*PLAIN, ("water", "20 g")))
    (notice,) = wet.notices
    # 20 of 330 g is 6.1 %; the fact says at most 3 %
    assert "6.1 %" in notice.text
    assert "3 %" in notice.reason


def cautions(made: Section) -> str:
    return " ".join(c.text for step in made.steps for c in step.cautions)


def test_each_danger_brings_its_caution_and_nothing_else_does() -> None:
    plain = cautions(making(recipe(*PLAIN)))
    assert re.search("Acid stings broken skin", plain)
    assert re.search("mask and goggles", plain)
    assert "flame, no spark" not in plain
    assert "Hot fat" not in plain
    assert "Undiluted oils" not in plain
    rich = cautions(
        making(recipe(*PLAIN, ("shea_butter", "5 g"), ("isopropyl_alcohol_91", "4 g"), ("lavender", "5 drops")))
    )
    for word in ("Hot fat burns", "No flame, no spark", "never heat it", "Undiluted oils", "Open a window"):
        assert word in rich
    assert "bad-egg gas" in cautions(making(recipe(*PLAIN, ("ultramarine_blue", "1 g"))))


def test_every_caution_of_every_demo_has_a_reason_and_known_sources() -> None:
    catalogue = load()
    for file in DEMOS:
        for step in demo(file.stem).steps:
            for caution in step.cautions:
                assert caution.reason
                assert set(caution.sources) <= set(catalogue.sources)


def test_the_list_to_have_ready_follows_the_recipe() -> None:
    plain = " ".join(making(recipe(*PLAIN)).ready)
    assert "goggles" in plain
    assert "thermometer" not in plain
    assert "spray bottle" not in plain
    assert "sphere of 65 mm" in plain
    rich = " ".join(demo("orchard_rain").ready)
    assert "thermometer" in rich
    assert "spray bottle" in rich
    assert "jar" in " ".join(demo("drift").ready)


@pytest.mark.parametrize(
    ("amount", "step", "fine"), [("8.85 g", 1.0, True), ("8.85 g", 0.1, False), ("4 g", 0.1, True)]
)
def test_the_list_asks_for_a_finer_scale_when_steps_are_coarse(amount: str, step: float, fine: bool) -> None:
    catalogue, workshop = open_workshop(folder())
    text = recipe(("sodium_bicarbonate", "200 g"), ("citric_acid", "100 g"), ("lavender", amount))
    mix = weigh(read_text(text, catalogue), catalogue)
    for small, lacking in ((0.01, False), (None, True)):
        shop = replace(workshop, scale_step_g=step, small_scale_step_g=small)
        ready = " ".join(section(mix, catalogue, Setting(workshop=shop)).ready)
        assert ("fine scale, 0.01 g steps" in ready) == fine
        assert ("your workshop does not list" in ready) == (fine and lacking)


def test_the_room_step_puts_on_what_the_recipe_needs() -> None:
    (dusty,) = [s for s in making(recipe(*PLAIN)).steps if s.title == "Make the room ready"]
    assert "gloves, mask and goggles on" in dusty.text
    (clear,) = [s for s in making(recipe(("epsom_salt", "200 g"), ("olive_oil", "10 g"))).steps if "room" in s.title]
    assert "gloves on" in clear.text
    assert "goggles" not in clear.text


def test_the_word_that_promises_too_much_is_never_said() -> None:
    for file in DEMOS:
        made = demo(file.stem)
        words = " ".join([*(s.text for s in made.steps), *(n.text for n in made.notices), cautions(made)])
        assert not re.search(r"\bsafe\b", words, re.IGNORECASE)
