"""The quick look beside the whole search: what the one says can hold, the other finds; and it never waits long."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fizzwright.catalogue import open_workshop
from fizzwright.demo import folder
from fizzwright.design.composed import Composed
from fizzwright.design.composing import compose
from fizzwright.design.glimpse import glimpse
from fizzwright.design.goal import Goal
from fizzwright.design.reading import read_goal_text
from fizzwright.design.tradeoff import front

CATALOGUE, WORKSHOP = open_workshop(folder())
HEAD = 'name = "Sandbar"\nmade_on = 2026-11-25\n[makes]\nmould = "sphere_65"\ncount = 6\n'


def goal(more: str) -> Goal:
    return read_goal_text(HEAD + more, CATALOGUE, workshop=WORKSHOP)


@pytest.mark.parametrize(
    ("more", "holds"),
    [
        ("", True),
        ("[water]\nph_settled = [7.0, 7.8]\n", False),
        ("[water]\nph_settled = [8.2, 8.8]\n", True),
        ('[cost]\npiece_at_most = "0.50 GBP"\n', True),
        ('[cost]\npiece_at_most = "0.05 GBP"\n', False),
        ("[water]\nph_settled = [4.0, 4.5]\n", False),
        ("[fizz]\ngas_l = [60, 70]\n", False),
        ("[feel]\noil_pct = [30, 40]\nfiller_pct = [50, 60]\nfoam_pct = [20, 30]\n", False),
    ],
)
def test_it_says_what_the_whole_search_finds(more: str, holds: bool) -> None:
    wanted = goal(more)
    seen = glimpse(wanted, CATALOGUE, WORKSHOP)
    assert seen.holds is holds
    assert (compose(wanted, CATALOGUE, WORKSHOP, brief=True).answer is not None) is holds
    assert (seen.conflict is not None) is (not holds)


def test_a_stopped_look_knows_nothing() -> None:
    assert glimpse(goal('[cost]\npiece_at_most = "0.05 GBP"\n'), CATALOGUE, WORKSHOP, stop=lambda: True).holds is None


def test_a_real_front_keeps_what_each_point_asks() -> None:
    def solve(wanted: Goal) -> Composed:
        return compose(wanted, CATALOGUE, WORKSHOP, brief=True)

    wanted = replace(goal(""), clay_pct=goal("[feel]\nclay_pct = { at_least = 5 }\n").clay_pct)
    found = front(wanted, solve, "cost", 3, currency="GBP")
    assert len(found.points) >= 2
    for point in found.points:
        assert point.y >= point.asked - 1e-9 and all(p.holds for p in point.answer.promises)
    assert [p.x for p in found.points] == sorted(p.x for p in found.points)


def test_no_more_of_a_limit_is_used_than_was_asked() -> None:
    wish = "[scent]\nfamilies = { citrus = 2, spicy = 1 }\n"
    free = compose(goal(wish), CATALOGUE, WORKSHOP, brief=True)
    assert free.answer is not None
    asked = free.answer.figures["share_of_limit"] / 2
    half = compose(goal(f"{wish}[limits]\nshare_at_most = {asked:.4f}\n"), CATALOGUE, WORKSHOP, brief=True)
    assert half.answer is not None and half.answer.figures["share_of_limit"] <= round(asked, 4) * (1 + 1e-6)
    kept = [p for p in half.answer.promises if p.demand == "limits.share_at_most"]
    assert len(kept) == 1 and kept[0].holds
