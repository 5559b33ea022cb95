"""The verdict on a day: it follows its own rule, it turns where it says it turns, and it never thinks damp is better."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fizzwright.catalogue import Catalogue, open_workshop
from fizzwright.recipe.document import read_file, read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.weigh import weigh
from fizzwright.review import damp
from fizzwright.review.making_day import made, section
from fizzwright.review.pace import Pace, pace_of
from fizzwright.review.room import read_room, usual_room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Range, piece
from fizzwright.review.verdict_of_day import DRIEST_PCT, WORDS, day, places
from fizzwright.review.wetting import as_bound

RECIPES = ("orchard_rain", "stillwater_clay", "drift", "pebbles", "lantern")


def opened(quillmoor: Path, stem: str) -> tuple[Mix, Catalogue]:
    catalogue, _ = open_workshop(quillmoor)
    return weigh(read_file(quillmoor / f"recipes/{stem}.toml", catalogue), catalogue), catalogue


@pytest.mark.parametrize(
    ("bowl", "drying", "humidity", "word"),
    [
        (240.0, 12.0, 40.0, "dry"),
        (25.0, 12.0, 40.0, "hold"),
        (9.0, 12.0, 40.0, "wait"),
        (240.0, 97.0, 40.0, "wait"),
        (240.0, np.inf, 40.0, "wait"),
        (240.0, 12.0, 55.0, "hold"),
        (240.0, 12.0, 65.0, "wait"),
    ],
)
def test_the_rule_case_by_case(bowl: float, drying: float, humidity: float, word: str) -> None:
    place = places(np.array(bowl), 14.0, np.array(drying), humidity, Range(55.0, 40.0, 65.0))
    assert WORDS[int(place)] == word


@pytest.mark.parametrize("stem", RECIPES)
def test_damper_air_is_never_better(quillmoor: Path, stem: str) -> None:
    mix, catalogue = opened(quillmoor, stem)
    size, room = piece(mix, catalogue), usual_room(None, catalogue)
    found = [WORDS.index(day(mix, catalogue, size, replace(room, humidity_pct=h)).word) for h in range(20, 91, 7)]
    assert found == sorted(found)
    assert found[0] < found[-1]


@pytest.mark.parametrize("stem", RECIPES)
def test_it_turns_where_it_says(quillmoor: Path, stem: str) -> None:
    """Dehumidified to what it names the word is dry, and two percent above it is not; where no machine gets, none is named."""
    mix, catalogue = opened(quillmoor, stem)
    size, room = piece(mix, catalogue), replace(usual_room(None, catalogue), humidity_pct=75.0)
    changes = day(mix, catalogue, size, room).changes
    first = next((text for text in changes if text.startswith("Dehumidify to ")), None)
    if first is None:
        assert any(text.startswith("No air that a dehumidifier reaches") for text in changes)
        assert day(mix, catalogue, size, replace(room, humidity_pct=DRIEST_PCT)).word != "dry"
        return
    named = float(first.split()[2])
    words = [day(mix, catalogue, size, replace(room, humidity_pct=h)).word for h in (named, named + 2)]
    assert words[0] == "dry" and words[1] != "dry"


def test_the_same_air_warmed_is_the_word_it_says(quillmoor: Path) -> None:
    mix, catalogue = opened(quillmoor, "orchard_rain")
    size, room = piece(mix, catalogue), replace(usual_room(None, catalogue), room_c=17.0, humidity_pct=60.0)
    told = next(text for text in day(mix, catalogue, size, room).changes if text.startswith("Warm the room"))
    celsius, humidity, word = float(told.split()[4]), float(told.split("has ")[1].split(" %")[0]), told[:-1].split()[-1]
    assert day(mix, catalogue, size, replace(room, room_c=celsius, humidity_pct=humidity)).word == word
    # by the saturation pressures of a steam table (17 C 1.938 kPa, 20 C 2.339 kPa; memory): 60 % becomes 49.7 %
    assert celsius == 20 and humidity == pytest.approx(60 * 1.938 / 2.339, abs=0.6)


def test_fewer_pieces_at_a_time_would_do(quillmoor: Path) -> None:
    mix, catalogue = opened(quillmoor, "orchard_rain")
    size = piece(mix, catalogue)
    room = replace(usual_room(None, catalogue), humidity_pct=50.0)
    has = float(damp.open_bowl_minutes(mix, catalogue, size, room.room_c, room.humidity_pct))
    slow = replace(room, pace=Pace(has / 8, has / 7))
    found = day(mix, catalogue, size, slow)
    assert found.word == "hold"
    assert any("Mix for 2 pieces at a time" in text for text in found.changes)


def test_the_pace_is_the_workshops_own(quillmoor: Path, catalogue: Catalogue) -> None:
    _, workshop = open_workshop(quillmoor)
    mix, _ = opened(quillmoor, "orchard_rain")
    # 25 minutes a batch, a quarter of them with the acid in; 4 a piece, half of them pressing; four pieces
    assert pace_of(workshop).minutes(piece(mix, catalogue)) == 25 / 4 + 4 * 4 / 2
    assert Pace().minutes(piece(mix, catalogue)) == 14


def test_a_room_nobody_read_says_nothing_against_the_recipe(quillmoor: Path) -> None:
    catalogue, workshop = open_workshop(quillmoor)
    mix, _ = opened(quillmoor, "orchard_rain")
    usual, read = (
        section(mix, catalogue, Setting(workshop, room=room)).notices
        for room in (None, read_room(workshop, catalogue, 19.0, 58.0))
    )
    assert any("damper" in n.text and n.standing for n in usual)
    assert any("damper" in n.text and not n.standing for n in read)


def test_a_mix_without_fizz_is_told_of_no_acid(quillmoor: Path) -> None:
    catalogue, _ = open_workshop(quillmoor)
    text = 'name = "Plain"\nkind = "fizzer"\n[makes]\nmould = "sphere_65"\n'
    text += '[[line]]\nuse = "sodium_bicarbonate"\namount = "300 g"\n'
    mix = weigh(read_text(text, catalogue), catalogue)
    said = day(mix, catalogue, piece(mix, catalogue), read_room(None, catalogue, 20.0, 40.0)).sentence
    assert said.startswith("The bowl may stand open") and "acid" not in said


def test_a_binder_to_consistency_is_reckoned_as_the_mix_wants_it(quillmoor: Path) -> None:
    """Pebbles is bound by feel: with what the plan itself would spray, the bowl outlasts the work on a dry day."""
    catalogue, workshop = open_workshop(quillmoor)
    mix, _ = opened(quillmoor, "pebbles")
    room = read_room(workshop, catalogue, 20.0, 40.0)
    held = as_bound(mix, catalogue, room)
    binder = mix.mask("binder_liquid")
    assert 0 < held.grams[binder].sum() < mix.grams[binder].sum()
    assert np.array_equal(held.grams[~binder], mix.grams[~binder])
    assert made(mix, catalogue, Setting(workshop, room=room))[1].word == "dry"
    written, _ = opened(quillmoor, "orchard_rain")
    assert as_bound(written, catalogue, room) is written
