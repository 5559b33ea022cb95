"""Rounding to spoons: the pick against brute force, the drawer against handbook volumes, the scent against its limits."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace
from functools import lru_cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fizzwright.catalogue import Catalogue, load, open_workshop
from fizzwright.demo import folder
from fizzwright.plan.drawer import amount_text, full_drawer, nearest, piles, read_drawer, read_names
from fizzwright.plan.piling import Choice, pick
from fizzwright.plan.rounding import Rounded, round_to_spoons
from fizzwright.recipe.document import read_file, read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review import review
from fizzwright.review.kitchens import inside

DEMOS = sorted(path.stem for path in (folder() / "recipes").glob("*.toml"))
SODA_G_MOL, CITRIC_G_MOL = 84.007, 192.124
"""NIST WebBook: sodium bicarbonate and citric acid, g/mol."""


@lru_cache(maxsize=1)
def books() -> Catalogue:
    return load()


def mix_of(text: str) -> Mix:
    return weigh(read_text(text, books()), books())


def demo(stem: str) -> Mix:
    return weigh(read_file(folder() / "recipes" / f"{stem}.toml", books()), books())


def recipe(soda: str, acid: str, *more: tuple[str, str]) -> Mix:
    lines = [("sodium_bicarbonate", soda), ("citric_acid", acid), *more]
    head = 'name = "Trial"\nkind = "fizzer"\nmade_on = 2026-11-25\n[makes]\nmould = "sphere_65"\n'
    return mix_of(head + "".join(f'[[line]]\nuse = "{use}"\namount = "{amount}"\n' for use, amount in lines))


# --- the pick, against every way there is

_scoops, _error = st.integers(1, 9), st.floats(-5, 5).map(lambda x: round(x, 2))
_base = st.builds(Choice, _scoops, _error, st.just(0.0), st.sampled_from([0.9, 1.0, 1.1, 1.3]))
_acid = st.builds(Choice, _scoops, _error, st.sampled_from([0.4, 0.5, 0.55, 0.61, 0.7]), st.just(0.0))
_other = st.builds(Choice, _scoops, _error, st.just(0.0), st.just(0.0))
_line = st.one_of(*(st.lists(kind, min_size=1, max_size=5) for kind in (_base, _acid, _other)))


def ratio_of(taken: tuple[Choice, ...]) -> float:
    return sum(c.acid_eq for c in taken) / sum(c.base_eq for c in taken)


@settings(max_examples=40, deadline=None)
@given(
    soda=st.lists(_base, min_size=1, max_size=5),
    more=st.lists(_line, min_size=1, max_size=3),
    ratio=st.floats(0.3, 1.2),
    within=st.floats(1, 15),
)
def test_no_pick_has_fewer_scoops(soda: list[Choice], more: list[list[Choice]], ratio: float, within: float) -> None:
    edge, lines = within / 100, [soda, *more]

    def off(taken: tuple[Choice, ...]) -> float:
        return abs(ratio_of(taken) / ratio - 1)

    # a ratio on the very edge may fall either way in floating point: such a case proves nothing
    ways = list(itertools.product(*lines))
    if any(abs(off(way) - edge) < 1e-5 for way in ways):
        return
    kept = [way for way in ways if off(way) < edge]
    got = pick(lines, ratio, within)
    taken = tuple(line[i] for line, i in zip(lines, got.choices, strict=True))
    if kept:
        assert got.strays_pct == 0.0 and off(taken) < edge
        assert sum(c.scoops for c in taken) == min(sum(c.scoops for c in way) for way in kept)
    else:
        assert got.strays_pct > 0 and off(taken) > edge


@pytest.mark.parametrize(
    ("soda", "acid", "within"), [("200 g", "97 g", 4), ("173 g", "88 g", 3), ("310 g", "141 g", 5)]
)
def test_a_two_line_recipe_takes_no_scoop_too_many(soda: str, acid: str, within: float) -> None:
    """Every pile of both lines tried by hand; acid and base from NIST's molar masses."""
    mix, drawer = recipe(soda, acid), full_drawer("us", books())
    per_ml = [books().materials[m.id].bulk_density_loose_g_ml_typ or 0.0 for m in mix.lines]
    wanted = [m.grams for m in mix.lines]
    fit = [
        [p for p in piles(0.0, 2 * grams / d, drawer) if abs(p.volume_ml * d / grams - 1) * 100 <= within * (1 + 1e-9)]
        for grams, d in zip(wanted, per_ml, strict=True)
    ]

    def ratio(soda_g: float, acid_g: float) -> float:
        return (acid_g * 3 / CITRIC_G_MOL) / (soda_g / SODA_G_MOL)

    aim = ratio(wanted[0], wanted[1])
    fewest = min(
        a.scoops + b.scoops
        for a, b in itertools.product(*fit)
        if abs(ratio(a.volume_ml * per_ml[0], b.volume_ml * per_ml[1]) / aim - 1) * 100 <= within
    )
    got = round_to_spoons(mix, books(), within_pct=within)
    assert got.scoops == fewest
    assert got.acid_to_base_after is not None and abs(got.acid_to_base_after / aim - 1) * 100 <= within * 1.01


def test_acid_against_base_may_cost_a_scoop() -> None:
    """Where each line's own fewest would stray together, the window takes over: 5 % up against 5 % down is 10 %."""
    up = [Choice(1, 5.0, 0.0, 1.05), Choice(2, 0.0, 0.0, 1.0)]
    down = [Choice(1, -5.0, 0.57, 0.0), Choice(2, 0.0, 0.6, 0.0)]
    assert pick([up, down], 0.6, 5.0).choices in ((0, 1), (1, 0))
    assert pick([up, down], 0.6, 12.0).choices == (0, 0)
    assert pick([up[:1], down[:1]], 0.6, 5.0).strays_pct == pytest.approx((1 - 0.57 / 1.05 / 0.6) * 100 - 5.0)


# --- the drawer


# NIST SP 1038: cup 236.588 ml, tablespoon 14.787 ml, teaspoon 4.929 ml
@pytest.mark.parametrize(
    ("name", "ml"),
    [
        ("1 cup", 236.588), ("1/3 cup", 78.863), ("½ cup", 118.294), ("tbsp", 14.787), ("1 tsp", 4.929),
        ("1/8 tsp", 0.616), ("teaspoon", 4.929), ("15 ml", 15), ("5 ml scoop", 5), ("2 tbsp measure", 29.574),
    ],
)  # fmt: skip
def test_measures_are_read_as_they_are_marked(name: str, ml: float) -> None:
    assert read_drawer([name], "us", books()).spoons[0].volume_ml == pytest.approx(ml, rel=1e-4, abs=5e-4)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("2 lb", "no cup or spoon"), ("12 drops", "no cup or spoon"), ("1 cup packed", "goes with a line"),
        ("a few", "Allowed: cups and spoons"), ("-1 cup", "below zero"), ("0 tsp", "zero"), ("3 l", "no cup or spoon"),
        ("20 cup", "0.1 to 1000 ml"), ("to consistency", "Allowed"), ("", "Allowed"), ("1 T", "tablespoon or teaspoon"),
    ],
)  # fmt: skip
def test_what_is_no_measure_is_refused_with_what_was_read(name: str, said: str) -> None:
    with pytest.raises(Refusal, match="spoons: read") as refused:
        read_drawer(["1 cup", name], "us", books())
    assert repr(name) in str(refused.value) and said in str(refused.value)


def test_a_list_of_measures() -> None:
    assert read_names("1 cup, 1/2 cup;tsp") == ("1 cup", "1/2 cup", "tsp")
    with pytest.raises(Refusal, match="nothing"):
        read_names("1 cup,,tsp")
    with pytest.raises(Refusal, match="no measure"):
        read_drawer([], "us", books())
    with pytest.raises(Refusal, match="up to 12"):
        read_drawer([f"{n} ml" for n in range(1, 15)], "us", books())
    # a metric teaspoon holds 5 ml: one measure under two names
    assert len(read_drawer(["1 tsp", "5 ml"], "metric", books()).spoons) == 1


@settings(max_examples=40, deadline=None)
@given(
    names=st.sets(st.sampled_from(["1 cup", "1/3 cup", "1/4 cup", "1 tbsp", "1 tsp", "1/4 tsp", "15 ml"]), min_size=1),
    volume=st.floats(0.5, 700),
)
def test_nearest_is_the_nearest_of_all_piles(names: set[str], volume: float) -> None:
    drawer = read_drawer(sorted(names), "us", books())
    got = nearest(volume, drawer)
    every = piles(0.0, 2 * volume + 300, drawer)
    assert abs(got.volume_ml - volume) == pytest.approx(min(abs(p.volume_ml - volume) for p in every), abs=1e-6)
    assert all(p.scoops == sum(p.counts) and sum(n > 0 for n in p.counts) <= 3 for p in every)
    assert all(
        p.volume_ml == pytest.approx(sum(n * s.volume_ml for n, s in zip(p.counts, drawer.spoons, strict=True)))
        for p in every
    )


@pytest.mark.parametrize("system", ["us", "metric", "uk", "au"])
def test_a_pile_written_as_one_amount_weighs_the_same(system: str) -> None:
    drawer = full_drawer(system, books())
    for pile in piles(0.5, 400.0, drawer)[::37]:
        text = amount_text(pile, drawer, books())
        head = f'name = "x"\nkind = "powder"\nmeasures = "{system}"\n[[line]]\nuse = "corn_starch"\namount = "{text}"\n'
        assert mix_of(head).lines[0].volume_ml == pytest.approx(pile.volume_ml, rel=2e-4, abs=1e-3), text


# --- recipes


def check_promises(mix: Mix, got: Rounded) -> None:
    """What the result says, found again from the document alone."""
    again = weigh(read_text(got.text, books(), mix.recipe.file), books())
    assert [m.grams for m in again.lines] == pytest.approx([row.got_g for row in got.rows])
    for row, line in zip(got.rows, mix.lines, strict=True):
        assert row.error_pct == pytest.approx((row.got_g / line.grams - 1) * 100)
        if row.by_spoon and not row.said and line.line.amount.unit not in ("spray", "to_consistency"):
            assert abs(row.error_pct) <= got.within_pct + 0.02, row
    assert got.scoops == sum(row.scoops for row in got.rows)
    assert got.chance >= got.chance_wanted
    assert inside(again, books(), habit="levelled").chance == pytest.approx(got.chance)
    report = review(again.recipe, books())
    if got.acid_to_base_after is not None:
        assert report.section("fizz").figure("acid_to_base_eq").value == pytest.approx(got.acid_to_base_after)
    json.dumps(got.as_dict(), allow_nan=False)


@pytest.mark.parametrize("stem", [stem for stem in DEMOS if stem != "hearth"])
def test_every_demo_keeps_its_promises(stem: str) -> None:
    mix = demo(stem)
    check_promises(mix, round_to_spoons(mix, books()))


def test_comments_and_what_is_no_amount_stay() -> None:
    mix = demo("stillwater_clay")
    got = round_to_spoons(mix, books())
    changed = [line for line in got.text.splitlines() if line not in mix.recipe.text.splitlines()]
    assert changed and all(line.startswith("amount = ") for line in changed)
    assert "# Weighed, not spooned" in got.text


def test_what_the_drawer_cannot_measure_goes_on_the_scale_and_says_why() -> None:
    mix = recipe("1 cup", "100 g", ("titanium_dioxide", "1/4 tsp"))
    got = round_to_spoons(mix, books(), spoons=("1 cup", "1/3 cup", "1/4 cup", "1 tbsp"))
    white = got.rows[2]
    assert white.by_spoon == "" and white.scoops == 0 and white.amount.endswith(" g")
    assert "1 tbsp" in white.said and "scale" in white.said and "1.2 ml" in white.said
    check_promises(mix, got)


def test_a_drawer_that_measures_nothing_is_refused() -> None:
    with pytest.raises(Refusal, match=r"None of them measures any line.*Citric acid"):
        round_to_spoons(recipe("1 1/2 cup", "3/4 cup"), books(), spoons=("1 cup",))


def test_when_acid_and_base_cannot_both_be_kept_the_least_that_can_is_told() -> None:
    # densities of the catalogue: 1/2 cup of soda is 4 % over, 1/4 cup of acid 4 % under, so their ratio is 8 % off
    soda, acid = (books().materials[m].bulk_density_loose_g_ml_typ or 0 for m in ("sodium_bicarbonate", "citric_acid"))
    mix = recipe(f"{118.294 * soda / 1.04:.3f} g", f"{59.147 * acid / 0.96:.3f} g")
    drawer = ("1/2 cup", "1/4 cup")
    with pytest.raises(Refusal, match=r"acid against base strays 7\.7 %.*--within 8"):
        round_to_spoons(mix, books(), spoons=drawer, within_pct=5)
    check_promises(mix, round_to_spoons(mix, books(), spoons=drawer, within_pct=8))


def test_drops_are_whole_and_the_nearest() -> None:
    # 0.846 g/ml, 30 drops a millilitre: 0.2 g is 7.09 drops, 0.04 g is 1.42
    got = round_to_spoons(recipe("1 cup", "1/2 cup", ("sweet_orange", "0.04 g")), books())
    assert got.rows[2].by_spoon == "1 drop" and got.rows[2].amount == "1 drop"
    assert got.rows[2].error_pct == pytest.approx((1 / 30 * 0.846 / 0.04 - 1) * 100, abs=0.5)
    assert "cannot be halved" in got.rows[2].said


def test_less_than_half_a_drop_is_weighed_never_rounded_up_to_one() -> None:
    # 0.846 g/ml, 30 drops a millilitre: 0.01 g is 0.35 of a drop
    got = round_to_spoons(recipe("1 cup", "1/2 cup", ("sweet_orange", "0.01 g")), books())
    assert (got.rows[2].by_spoon, got.rows[2].amount, got.rows[2].error_pct) == ("", "0.01 g", 0.0)
    assert "0.35 of a drop" in got.rows[2].said and "scale" in got.rows[2].said


def spiced(amount: str) -> Mix:
    return recipe("1/2 cup", "1/4 cup", ("sunflower_oil", "1 tbsp"), ("cinnamon_bark", amount), ("lavender", "6 drops"))


def test_a_scent_near_its_limit_loses_drops_until_enough_kitchens_hold() -> None:
    """The largest count that holds, against trying every count one by one."""
    chances = {}
    for drops in range(1, 61):
        made = spiced(f"{drops} drops")
        chances[drops] = inside(made, books(), habit="levelled").chance
    most = max(n for n, chance in chances.items() if chance >= 0.99)
    assert 5 < most < 55 and chances[most + 1] < 0.99
    start = round(most * 1.4)
    mix = spiced(f"{start} drops")
    got = round_to_spoons(mix, books())
    assert got.rows[3].scoops == most and got.rows[4].scoops == 6
    assert got.chance >= 0.99 and "largest count" in got.rows[3].said and "outside the 5 % asked" in got.rows[3].said
    loose = round_to_spoons(mix, books(), chance=0.6)
    assert loose.rows[3].scoops > most


def test_a_scent_far_over_its_limit_is_refused_with_what_mends_it() -> None:
    with pytest.raises(Refusal) as refused:
        round_to_spoons(demo("hearth"), books())
    said = str(refused.value)
    assert "Cinnamaldehyde" in said and "drops of Cinnamon bark" in said and "asked was 99 %" in said
    # and what it says holds indeed
    import re

    found = re.findall(r"take (\d+) drops? of ([A-Z][a-z]+ [a-z]+)", said)
    counts = {name.lower().replace(" ", "_"): int(n) for n, name in found}
    assert set(counts) == {"cinnamon_bark", "clove_bud"}
    text = demo("hearth").recipe.text
    for use, was in (("cinnamon_bark", "2 tsp"), ("clove_bud", "1/2 tsp")):
        text = text.replace(f'use = "{use}"\namount = "{was}"', f'use = "{use}"\namount = "{counts[use]} drops"')
    check_promises(mix_of(text), round_to_spoons(mix_of(text), books()))


@pytest.mark.parametrize(
    ("within", "chance", "said"),
    [(0.0, 0.99, "within"), (40, 0.99, "within"), (5, 1.0, "chance"), (5, float("nan"), "chance")],
)
def test_what_cannot_be_asked_is_refused(within: float, chance: float, said: str) -> None:
    with pytest.raises(Refusal, match=f"^{said}: read"):
        round_to_spoons(recipe("1 cup", "1/2 cup"), books(), within_pct=within, chance=chance)


def test_the_workshop_s_own_drawer_is_taken_and_its_mistakes_are_named() -> None:
    _, workshop = open_workshop(folder())
    few = replace(workshop, spoons=("1/2 cup", "1/4 cup"))
    got = round_to_spoons(recipe("1 cup", "1/2 cup"), books(), few)
    assert got.drawer == "1/2 cup, 1/4 cup" and got.rows[0].by_spoon == "2 x 1/2 cup"
    with pytest.raises(Refusal, match=r"^workshop.toml, spoons: read '1 stone'"):
        round_to_spoons(recipe("1 cup", "1/2 cup"), books(), replace(workshop, spoons=("1 stone",)))


# --- what no kitchen measures


def test_what_is_added_to_a_dry_mass_of_nothing_rounds_to_nothing() -> None:
    head = 'name = "Trial"\nkind = "powder"\nmade_on = 2026-11-25\n'
    lines = (("witch_hazel", "to consistency"), ("coconut_oil", "1 tbsp"))
    mix = mix_of(head + "".join(f'[[line]]\nuse = "{use}"\namount = "{amount}"\n' for use, amount in lines))
    rounded = round_to_spoons(mix, books())
    feel, oil = rounded.rows
    assert (feel.amount, feel.error_pct, feel.by_scale) == ("to consistency", 0.0, "")
    assert oil.by_spoon == "1 tbsp" and "in 1 scoop or drop" in rounded.summary


def test_a_scale_that_cannot_show_it_is_not_said_to_do_it() -> None:
    rounded = round_to_spoons(recipe("1 cup", "1/2 cup", ("sweet_orange", "0.01 drops")), books())
    said = rounded.rows[-1].said
    assert "A scale does it" not in said and "0.01 g at the nearest" in said and "larger batch" in said
