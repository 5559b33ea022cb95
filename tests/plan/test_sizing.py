"""Resizing: sums done by hand, and the review of the resized document as the check."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import load
from fizzwright.plan.sizing import resize
from fizzwright.recipe.document import read_file, read_text
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review.sizes import piece

TEXT = """# kept
name = "Test"
kind = "fizzer"
[makes]
mould = "sphere_65"

[[line]]
use = "sodium_bicarbonate"
amount = "300 g"  # kept too

[[line]]
use = "citric_acid"
amount = "150 g"

[[line]]
use = "sweet_almond_oil"
amount = "1 tbsp"

[[line]]
use = "sweet_orange"
amount = "10 drops"
"""


def recipe():
    return read_text(TEXT, load())


def test_a_count_fills_just_so_many_pieces():
    catalogue = load()
    sized = resize(recipe(), catalogue, count=9)
    mix = weigh(read_text(sized.text, catalogue), catalogue)
    assert mix.recipe.makes.count == 9
    size = piece(mix, catalogue)
    # whole pieces, and no more than a spoon or two over
    assert size.pieces == 9
    assert size.total_g == pytest.approx(9 * size.piece_g.value, rel=0.03)
    assert "# kept" in sized.text and "# kept too" in sized.text


# By hand: 250 g of citric acid left, 150 g a batch: 1.6667 batches; 300 g of bicarbonate become 500 g.
def test_a_bag_sets_the_scale():
    sized = resize(recipe(), load(), bag=("citric_acid=250g",))
    assert sized.factor == pytest.approx(250 / 150)
    after = {c.use: c.after for c in sized.changes}
    assert after["sodium_bicarbonate"] == "500 g"
    assert after["citric_acid"] == "250 g"
    assert after["sweet_orange"] == "17 drops"


def test_times_is_exact_in_the_units_of_the_maker():
    sized = resize(recipe(), load(), times="1 1/2")
    assert {c.use: c.after for c in sized.changes} == {
        "sodium_bicarbonate": "450 g",
        "citric_acid": "225 g",
        "sweet_almond_oil": "1 1/2 tbsp",
        "sweet_orange": "15 drops",
    }
    back = resize(read_text(sized.text, load()), load(), times="2/3")
    assert read_text(back.text, load()).lines == recipe().lines


def test_the_bag_that_runs_out_first_decides():
    sized = resize(recipe(), load(), bag=("citric_acid=1 kg", "sodium_bicarbonate=450 g"))
    assert sized.factor == pytest.approx(1.5)
    assert "sodium_bicarbonate" in sized.summary


def test_no_more_is_asked_for_than_the_bag_holds_and_the_count_follows(quillmoor: Path):
    catalogue = load()
    path = quillmoor / "recipes/orchard_rain.toml"
    sized = resize(read_file(path, catalogue), catalogue, bag=("citric acid=250 g",))
    mix = weigh(read_text(sized.text, catalogue, path), catalogue)
    used = sum(float(g) for g, m in zip(mix.grams, mix.lines, strict=True) if m.id == "citric_acid")
    assert 245 <= used <= 250
    made = piece(mix, catalogue)
    assert mix.recipe.makes.count == made.pieces
    assert made.leftover_g.value < made.piece_g.value


def test_a_total_is_met():
    catalogue = load()
    sized = resize(recipe(), catalogue, total="1 kg")
    assert weigh(read_text(sized.text, catalogue), catalogue).grams.sum() == pytest.approx(1000, rel=0.01)


def test_filler_makes_the_last_piece_whole():
    catalogue = load()
    before = piece(weigh(recipe(), catalogue), catalogue)
    sized = resize(recipe(), catalogue, whole=True)
    after = piece(weigh(read_text(sized.text, catalogue), catalogue), catalogue)
    # the scale rounds to 0.1 g, which may leave the last piece a hair short
    assert after.total_g / after.piece_g.value == pytest.approx(before.pieces + 1, abs=2e-3)


@given(st.floats(min_value=0.05, max_value=40))
def test_rounding_is_told_as_it_is(factor):
    catalogue = load()
    mix = weigh(recipe(), catalogue)
    sized = resize(recipe(), catalogue, total=f"{factor * float(mix.grams.sum()):.1f} g")
    again = weigh(read_text(sized.text, catalogue), catalogue)
    for change, before, after in zip(sized.changes, mix.grams, again.grams, strict=True):
        assert after == pytest.approx(before * sized.factor * (1 + change.rounding_pct / 100), rel=2e-3)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({}, "nothing was asked"),
        ({"count": 2, "whole": True}, "count, whole"),
        ({"count": 0}, "1 to 100000"),
        ({"total": "3 cups"}, "in g, kg, oz or lb"),
        ({"total": "nonsense"}, "nonsense"),
        ({"bag": ("kaolin=3 g",)}, "this recipe holds"),
        ({"bag": ("citric_acid",)}, "id=amount"),
        ({"total": "900 kg"}, "up to 1000 times"),
        ({"times": "0"}, "times"),
        ({"times": "many"}, "many"),
    ],
)
def test_what_cannot_be_done_is_told(asked, words):
    with pytest.raises(Refusal, match=words):
        resize(recipe(), load(), **asked)


def test_a_powder_has_no_last_piece(quillmoor: Path):
    with pytest.raises(Refusal, match="no last piece"):
        resize(read_file(quillmoor / "recipes/drift.toml", load()), load(), whole=True)


PARTS = """name = "Parts"
kind = "fizzer"
[makes]
mould = "sphere_65"
count = 2
[[line]]
use = "sodium_bicarbonate"
amount = "2 parts"
[[line]]
use = "citric_acid"
amount = "1 part"
[[line]]
use = "sweet_almond_oil"
amount = "1 tbsp"
"""


def test_parts_grow_with_the_count():
    catalogue = load()
    before = weigh(read_text(PARTS, catalogue), catalogue)
    sized = resize(read_text(PARTS, catalogue), catalogue, count=6)
    after = weigh(read_text(sized.text, catalogue), catalogue)
    assert after.grams == pytest.approx(3 * before.grams, rel=0.15)
    with pytest.raises(Refusal, match="another count"):
        resize(read_text(PARTS, catalogue), catalogue, total="2 kg")


def test_parts_without_a_count_are_cups_and_grow_too():
    catalogue = load()
    text = PARTS.replace("count = 2\n", "")
    before = weigh(read_text(text, catalogue), catalogue)
    sized = resize(read_text(text, catalogue), catalogue, total=f"{2 * before.grams.sum():.1f} g")
    assert weigh(read_text(sized.text, catalogue), catalogue).grams == pytest.approx(2 * before.grams, rel=0.03)


@pytest.mark.parametrize("count", [1, 3, 10, 36])
def test_every_demo_grows_to_the_count_asked_for(quillmoor: Path, count: int):
    catalogue = load()
    for path in sorted((quillmoor / "recipes").glob("*.toml")):
        sized = resize(read_file(path, catalogue), catalogue, count=count)
        made = piece(weigh(read_text(sized.text, catalogue, path), catalogue), catalogue)
        assert made.pieces >= count, path.name
        # no more than a few percent too much of it
        assert made.total_g <= 1.12 * count * made.piece_g.value, path.name


def test_nobody_is_asked_to_count_thirty_spoons():
    sized = resize(recipe(), load(), count=60)
    after = {c.use: c.after for c in sized.changes}["sweet_almond_oil"]
    assert "tbsp" not in after and "tsp" not in after


def test_a_stopped_recipe_is_not_multiplied_in_silence(quillmoor: Path):
    catalogue = load()
    hearth = resize(read_file(quillmoor / "recipes/hearth.toml", catalogue), catalogue, count=12)
    assert any(note.startswith("Stop") for note in hearth.notes)
    assert not any(note.startswith("Stop") for note in resize(recipe(), catalogue, count=12).notes)
