"""Conflicts against trying every subset, and their easings against the programme itself."""

import math
from itertools import combinations
from pathlib import Path

import pytest

from fizzwright.catalogue import Catalogue, open_workshop
from fizzwright.design import conflict
from fizzwright.design.composing import compose
from fizzwright.design.demands import Demand, Lens
from fizzwright.design.goal import Window
from fizzwright.design.pantry import stocked
from fizzwright.design.programme import Programme, programme
from fizzwright.design.reading import read_goal_text
from fizzwright.design.solving import solve
from tests.design.goals import CLASSIC, small

GOALS = {
    "gas against filler": ("[fizz]\ngas_l = [19, 30]\n[feel]\nfiller_pct = [30, 60]\n", CLASSIC),
    "clay without clay": ('[feel]\nclay_pct = [5, 9]\n[avoid]\nmaterials = ["kaolin"]\n', CLASSIC),
    "oil with clay and gas": ("[fizz]\ngas_l = [17, 30]\n[feel]\noil_pct = [5, 8]\nclay_pct = [9, 15]\nfiller_pct = [26, 40]\n", CLASSIC),
    "more orange than the drawer holds": (
        "total_pct = [0.5, 1]\n[stock]\nonly = true\n[stock.grams]\nsweet_orange = 1\nsodium_bicarbonate = 900\ncitric_acid = 500\n"
        "corn_starch = 300\nsunflower_oil = 90\nisopropyl_alcohol_91 = 90\n",
        CLASSIC,
    ),
}  # fmt: skip


def drawn(catalogue: Catalogue, name: str) -> Programme:
    more, text = GOALS[name]
    few = small(catalogue)
    pantry = stocked(read_goal_text(text + more, catalogue), few, None)
    return programme(pantry, Lens(pantry.batch_g))


def holds(made: Programme, demands: tuple[Demand, ...]) -> bool:
    return conflict.can_hold(made, demands, solve) is not None


@pytest.mark.parametrize("name", GOALS)
def test_the_set_is_a_smallest_one(catalogue: Catalogue, name: str) -> None:
    """No smaller choice of demands conflicts (all are tried), the set does, and without any one of it the rest holds."""
    made = drawn(catalogue, name)
    core = conflict.smallest(made, made.demands, solve)
    assert core
    assert not holds(made, core)
    for demand in core:
        assert holds(made, tuple(other for other in core if other is not demand))
    if len(core) <= 3:
        for fewer in range(1, len(core)):
            assert all(holds(made, chosen) for chosen in combinations(made.demands, fewer))


@pytest.mark.parametrize("name", ["gas against filler", "oil with clay and gas"])
def test_the_easing_is_enough_and_the_least(catalogue: Catalogue, name: str) -> None:
    """With the demand eased so far a recipe is found; with a seventh less of it, none is (what is told leaves room to measure)."""
    made = drawn(catalogue, name)
    told = conflict.told(made, solve, lambda _: 0.0)
    assert told is not None and told.easings
    for easing in told.easings:
        demand = next(d for d in made.demands if d.key == easing.demand)
        rest = [d for d in made.demands if d is not demand]
        if conflict.can_hold(made, rest, solve) is None:
            rest = [d for d in made.demands if d.key in told.demands and d is not demand]
        window = demand.window

        def eased(amount: float, window: Window = window, side: str = easing.side) -> Window:
            return window.eased(amount, side)

        assert holds(made, (*rest, demand.eased(eased(easing.amount))))
        # what is told leaves half a percent of the end itself for amounts that can be measured
        room = 0.01 * abs((window.low if easing.side == "low" else window.high) or 0.0)
        assert not holds(made, (*rest, demand.eased(eased(0.85 * easing.amount - room))))


def test_what_must_be_bought_is_told(catalogue: Catalogue) -> None:
    made = drawn(catalogue, "more orange than the drawer holds")
    told = conflict.told(made, solve, lambda _: 0.0)
    assert told is not None
    stock = next(easing for easing in told.easings if easing.demand == "stock.only")
    assert "sweet orange" in stock.text.lower()
    # half a percent of four pieces of 120 g is 2.4 g, and one is there
    assert stock.amount == pytest.approx(1.4, abs=0.2)


def test_laws_are_told_but_never_eased(catalogue: Catalogue) -> None:
    """A child's piece is to smell of eucalyptus alone: what bars it is in the set and not among the easings."""
    text = CLASSIC.replace('name = "Saturday"', 'name = "Saturday"\naudience = "child_2_plus"').replace(
        "families = { citrus = 1 }", "oils = { eucalyptus_globulus = 1 }\ntotal_pct = [0.2, 0.3]"
    )
    found = compose(read_goal_text(text, catalogue), catalogue, None)
    assert found.answer is None and found.conflict is not None
    assert any(key.startswith(("barred.", "limit.", "caution.")) for key in found.conflict.demands)
    assert not any(e.demand.startswith(("barred.", "limit.", "caution.")) for e in found.conflict.easings)


def test_a_ph_no_bath_comes_to(catalogue: Catalogue) -> None:
    """A settled pH of 6 conflicts with no more acid than base; the easing tells a pH that the true model reaches."""
    text = CLASSIC + "[water]\nph_settled = [5.5, 6.0]\n[fizz]\nacid_to_base = [0.5, 1.0]\n"
    found = compose(read_goal_text(text, catalogue), catalogue, None)
    assert found.conflict is not None
    assert set(found.conflict.demands) == {"water.ph_settled", "fizz.acid_to_base"}
    easing = next(e for e in found.conflict.easings if e.demand == "water.ph_settled")
    eased = compose(
        read_goal_text(text.replace("6.0", f"{6.0 + easing.amount + 0.02:.2f}"), catalogue), catalogue, None, brief=True
    )
    assert eased.answer is not None
    assert eased.answer.figures["ph_settled"] <= 6.0 + easing.amount + 0.02


def test_an_easing_that_is_told_gives_a_recipe(catalogue: Catalogue, quillmoor: Path) -> None:
    """What would do does: each easing put into the goal is answered, and money is told in whole pence."""
    own, workshop = open_workshop(quillmoor)
    text = (quillmoor / "goals" / "both_ways.toml").read_text(encoding="utf-8")
    told = compose(read_goal_text(text, own), own, workshop, brief=True).conflict
    assert told is not None and len(told.easings) == 2
    asked = {"fizz.gas_l": 18, "feel.filler_pct": 35}
    for easing in told.easings:
        was = asked[easing.demand]
        eased = text.replace(f"at_least = {was} ", f"at_least = {was - easing.amount:.4f} ")
        assert eased != text
        assert compose(read_goal_text(eased, own), own, workshop, brief=True).answer is not None, easing.text


def test_a_cheap_piece_is_no_conflict_where_a_dearer_goal_finds_it(catalogue: Catalogue, quillmoor: Path) -> None:
    own, workshop = open_workshop(quillmoor)
    text = CLASSIC.split("[scent]")[0]
    cheapest = compose(read_goal_text('seek = "cheapest"\n' + text, own), own, workshop, brief=True)
    assert cheapest.answer is not None and cheapest.answer.cost_piece_minor is not None
    most = math.ceil(cheapest.answer.cost_piece_minor * 1.01)
    found = compose(
        read_goal_text(f'{text}[cost]\npiece_at_most = "{most / 100:.2f} GBP"\n', own, None, workshop),
        own,
        workshop,
        brief=True,
    )
    assert found.answer is not None, found.conflict
