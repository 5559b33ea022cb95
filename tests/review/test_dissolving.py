"""How pieces of real recipes come apart: times against closed forms and common practice, parts, floating, and the maker's own tests."""

import math
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.document import read_file, read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.weigh import weigh
from fizzwright.review import dissolving, parts
from fizzwright.review.figures import Figure
from fizzwright.review.release import Release
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, piece

# two to one by volume with starch (fact ratio_popular)
USUAL = (
    ("sodium_bicarbonate", "300 g"),
    ("citric_acid", "150 g"),
    ("corn_starch", "60 g"),
    ("sweet_almond_oil", "18 g"),
)
ACTIVE = (("sodium_bicarbonate", "200 g"), ("citric_acid", "100 g"))
DULL = (("sodium_bicarbonate", "100 g"), ("citric_acid", "10 g"), ("kaolin", "120 g"), ("sweet_almond_oil", "12 g"))


def lines(*given: tuple[str, str], part: str | None = None) -> str:
    more = f'part = "{part}"\n' if part else ""
    return "".join(f'\n[[line]]\nuse = "{use}"\namount = "{amount}"\n{more}' for use, amount in given)


def mix_of(
    catalogue: Catalogue, body: str, makes: str = 'mould = "sphere_65"', kind: str = "fizzer", tub: str = ""
) -> Mix:
    tub = tub or "temperature_c = 38"
    text = f'name = "Test"\nkind = "{kind}"\n[makes]\n{makes}\n[tub]\n{tub}\n{body}'
    return weigh(read_text(text, catalogue), catalogue)


def told(mix: Mix, catalogue: Catalogue, setting: Setting | None = None) -> tuple[Release, dict[str, Figure], tuple]:
    setting, size = setting or Setting(), piece(mix, catalogue)
    release = dissolving.release(mix, catalogue, setting, size)
    figures, notices, curves, cutaway = dissolving.figures(mix, catalogue, setting, size, release)
    return release, {figure.id: figure for figure in figures}, (notices, curves, cutaway)


# Common practice, no source: 3 1/2 to 5 minutes for a 65 mm piece of two to one at 38 C.
def test_a_usual_piece_takes_the_minutes_that_makers_know(catalogue):
    _, figures, _ = told(mix_of(catalogue, lines(*USUAL)), catalogue)
    fizz = figures["fizz_seconds"]
    assert 210 <= fizz.value <= 300
    assert fizz.low < fizz.value < fizz.high
    assert fizz.low == pytest.approx(fizz.value / 1.6)
    assert fizz.basis == "estimate"


# Closed form of a ball eaten evenly: gone after R / v; dissolved 1 - (1 - v t / R)^3.
def test_a_speed_of_the_makers_own_replaces_the_default(catalogue):
    release, figures, _ = told(mix_of(catalogue, lines(*USUAL)), catalogue, Setting(speed_mm_s=0.25))
    assert figures["fizz_seconds"].value == pytest.approx(32.5 / 0.25, rel=1e-6)
    assert figures["fizz_seconds"].basis == release.basis == "your_own_batches"
    assert figures["fizz_seconds"].high < figures["fizz_seconds"].value * 1.25
    exact = 1 - (1 - release.seconds / 130) ** 3
    assert release.dissolved["whole"] == pytest.approx(exact, abs=0.002)
    assert any("speed" in i.name and i.value == 0.25 for i in figures["fizz_seconds"].working.inputs)


@pytest.mark.parametrize("makes", ['mould = "sphere_65"', 'mould = "heart_65"', 'mould = "standard"'])
def test_a_timed_test_sets_the_time(catalogue, makes):
    mix = mix_of(catalogue, lines(*USUAL), makes, tub="temperature_c = 38\nfizzed_in_s = 333")
    release, figures, _ = told(mix, catalogue)
    assert figures["fizz_seconds"].value == pytest.approx(333)
    assert release.gone_s.value == release.seconds[-1] == pytest.approx(333)
    assert release.basis == "your_own_batches"
    assert any(i.name == "timed test" and i.value == 333 for i in figures["fizz_seconds"].working.inputs)


def test_a_timed_test_keeps_what_is_known_of_the_parts(catalogue):
    body = lines(*ACTIVE, part="shell") + lines(*DULL, part="core")
    plain, _, _ = told(mix_of(catalogue, body, kind="cored"), catalogue)
    timed, _, _ = told(mix_of(catalogue, body, kind="cored", tub="temperature_c = 38\nfizzed_in_s = 500"), catalogue)
    assert timed.shows_s["core"] / timed.gone_s.value == pytest.approx(plain.shows_s["core"] / plain.gone_s.value)
    given, _, _ = told(mix_of(catalogue, body, kind="cored"), catalogue, Setting(speed_mm_s=0.2))
    assert given.gone_s.value == pytest.approx(32.5 / 0.2, rel=2e-3)


# Arrhenius by hand: 25 kJ/mol from 38 to 30 C: exp(-25000/8.314462618 (1/303.15 - 1/311.15)) = 0.7749.
def test_cooler_water_takes_longer(catalogue):
    warm, _, _ = told(mix_of(catalogue, lines(*USUAL)), catalogue)
    cool, _, _ = told(mix_of(catalogue, lines(*USUAL), tub="temperature_c = 30"), catalogue)
    assert warm.gone_s.value / cool.gone_s.value == pytest.approx(0.7749, abs=5e-4)


# By hand: core's share s of a ball of radius R lies under a shell of R (1 - s^(1/3)); it shows after that over the shell's speed.
def test_the_core_shows_when_the_shell_is_eaten_through(catalogue):
    mix = mix_of(catalogue, lines(*USUAL, part="shell") + lines(*ACTIVE, part="core"), kind="cored")
    release, figures, (_, curves, cutaway) = told(mix, catalogue)
    shell, core = parts.parts_of(mix)
    assert core.volume_share == pytest.approx(1 - shell.volume_share)
    by_hand = 32.5 * (1 - core.volume_share ** (1 / 3)) / shell.speed_mm_s(38)
    assert figures["core_shows_s"].value == pytest.approx(by_hand, rel=0.005)
    assert release.shows_s["core"] == figures["core_shows_s"].value
    assert release.shows_s["shell"] == 0
    before = release.seconds < by_hand - 3
    assert np.all(release.dissolved["core"][before] == pytest.approx(0, abs=1e-3))
    assert release.dissolved_at("shell", np.array([by_hand + 3]))[0] > 0.99
    assert curves[0].marks["the core shows"] == pytest.approx(by_hand / 60, rel=0.005)
    middle = cutaway.part[cutaway.part.shape[0] // 2, cutaway.part.shape[1] // 2]
    assert cutaway.part_names[middle] == "core"


def test_what_dissolves_is_what_was_put_in(catalogue):
    body = lines(*USUAL, part="layer_1") + lines(*DULL, part="layer_2") + lines(*ACTIVE, part="layer_3")
    mix = mix_of(catalogue, body + lines(("epsom_salt", "30 g")), kind="layered")
    release, _, _ = told(mix, catalogue)
    found = parts.parts_of(mix)
    assert sum(part.mass_share for part in found) == pytest.approx(1)
    assert np.sum([part.share for part in found], axis=0) == pytest.approx(np.ones(len(mix.lines)))
    mixed = sum(part.mass_share * release.dissolved[part.name] for part in found)
    # a line without a part goes through all of them, by their mass as made
    assert release.dissolved["whole"] == pytest.approx(mixed, abs=0.01)
    for share in release.dissolved.values():
        assert share[0] == pytest.approx(0, abs=1e-9)
        assert share[-1] == pytest.approx(1)
        assert np.all(np.diff(share) >= -1e-9)
    assert release.seconds == pytest.approx(np.linspace(0, release.gone_s.value, len(release.seconds)))


def test_a_part_without_a_name_is_the_other_one(catalogue):
    named = mix_of(catalogue, lines(*USUAL, part="shell") + lines(*ACTIVE, part="core"), kind="cored")
    open_ended = mix_of(catalogue, lines(*USUAL) + lines(*ACTIVE, part="core"), kind="cored")
    first, second = told(named, catalogue)[0], told(open_ended, catalogue)[0]
    assert second.shows_s["core"] == pytest.approx(first.shows_s["core"])
    assert second.shows_s["whole"] == 0
    assert second.dissolved["whole"] == pytest.approx(first.dissolved["shell"])


def test_one_part_alone_is_the_whole_piece(catalogue):
    mix = mix_of(catalogue, lines(*USUAL, part="layer_1"), kind="layered")
    release, figures, _ = told(mix, catalogue)
    assert release.gone_s.value == pytest.approx(told(mix_of(catalogue, lines(*USUAL)), catalogue)[0].gone_s.value)
    assert release.dissolved["layer_1"] == pytest.approx(release.dissolved["whole"])
    assert not any(name.startswith("shows") for name in figures)


def test_layers_that_fizz_unlike_turn_the_piece(catalogue):
    alike = mix_of(catalogue, lines(*USUAL, part="layer_1") + lines(*USUAL, part="layer_2"), kind="layered")
    unlike = mix_of(catalogue, lines(*ACTIVE, part="layer_1") + lines(*DULL, part="layer_2"), kind="layered")
    even, odd = told(alike, catalogue)[1]["turns"], told(unlike, catalogue)[1]["turns"]
    assert even.value == pytest.approx(0, abs=1e-9)
    assert 0.2 < odd.value < 0.5
    assert odd.low <= odd.value <= odd.high
    assert told(mix_of(catalogue, lines(*USUAL)), catalogue)[1]["turns"].value == 0


def heavier(size: Piece, density_g_ml: float) -> Piece:
    """The piece pressed to that density, without a doubt about it."""
    assert size.volume_ml is not None
    return replace(size, piece_g_draws=np.full_like(size.piece_g_draws, density_g_ml * size.volume_ml))


# Archimedes: what is lighter than its own volume of water floats; the film of gas or the soaked rim shifts that by its
# thickness times surface over volume (3 / 32.5 mm): 0.2 mm x 0.0923 x 0.993 = 0.018 g/ml.
def test_it_floats_by_archimedes(catalogue):
    mix = mix_of(catalogue, lines(*USUAL))
    size, setting = piece(mix, catalogue), Setting()
    release = dissolving.release(mix, catalogue, setting, size)

    def floats(density: float) -> Figure:
        found = dissolving.figures(mix, catalogue, setting, heavier(size, density), release)[0]
        return next(figure for figure in found if figure.id == "floats")

    assert floats(0.85).value == 1.0
    assert floats(1.25).value == 0.0
    assert floats(0.993 + 0.018).value == pytest.approx(0.5, abs=0.03)
    assert floats(0.95).value > floats(1.0).value > floats(1.03).value
    assert floats(1.0).low <= floats(1.0).value <= floats(1.0).high


def test_a_sinking_piece_is_told(catalogue):
    dense = (
        ("sodium_bicarbonate", "300 g"),
        ("citric_acid", "150 g"),
        ("titanium_dioxide", "150 g"),
        ("glycerin", "80 g"),
    )
    _, figures, (notices, curves, _) = told(mix_of(catalogue, lines(*dense)), catalogue)
    assert figures["floats"].value < 0.25
    assert any(n.level == "mind" and n.figure == "floats" and "sinks" in n.text for n in notices)
    chance = next(curve for curve in curves if curve.id == "floating").lines["chance that it floats"]
    # as it shrinks, the gas on its surface lifts more of it
    assert chance[-2] > chance[0]


def test_a_light_piece_is_told_to_float(catalogue):
    _, figures, (notices, _, _) = told(mix_of(catalogue, lines(*USUAL)), catalogue)
    assert figures["floats"].value >= 0.75
    assert "float when they go in" in figures["floats"].text
    # said once: only a piece that also spins gets a word beside the figure
    assert figures["turns"].value < 0.05
    assert not [n for n in notices if n.figure == "floats"]


def test_a_core_that_shows_late_is_told(catalogue):
    body = lines(*DULL, part="shell") + lines(("sodium_bicarbonate", "8 g"), ("citric_acid", "4 g"), part="core")
    _, figures, (notices, _, _) = told(mix_of(catalogue, body, 'mould = "sphere_90"', "cored"), catalogue)
    assert figures["core_shows_s"].value > 600
    assert any(n.figure == "core_shows_s" and "half the bath" in n.text for n in notices)


# Hixson and Crowell's cube-root law: half the time leaves an eighth.
def test_a_powder_goes_grain_by_grain(catalogue):
    release, figures, (_, curves, cutaway) = told(mix_of(catalogue, lines(*USUAL), "", "powder"), catalogue)
    assert 20 <= figures["fizz_seconds"].low < figures["fizz_seconds"].value < figures["fizz_seconds"].high <= 60
    assert release.dissolved_at("whole", np.array([release.gone_s.value / 2]))[0] == pytest.approx(7 / 8, abs=1e-6)
    assert set(figures) == {"fizz_seconds"}
    assert cutaway is None
    assert curves[0].id == "dissolved"
    timed = mix_of(catalogue, lines(*USUAL), "", "powder", "temperature_c = 38\nfizzed_in_s = 75")
    assert told(timed, catalogue)[0].gone_s.value == 75


# A ball of the piece's mass over its density, by hand.
def test_a_mould_known_by_weight_is_taken_as_a_ball(catalogue):
    mix = mix_of(catalogue, lines(*USUAL), 'mould = "standard"')
    _, figures, _ = told(mix, catalogue)
    (part,) = parts.parts_of(mix)
    radius = (150 / part.density_g_ml * 1000 * 3 / 4 / math.pi) ** (1 / 3)
    assert figures["fizz_seconds"].value == pytest.approx(radius / part.speed_mm_s(38), rel=0.003)
    assert any("ball" in i.name for i in figures["fizz_seconds"].working.inputs)


# A mesh of a ball comes apart as the ball does.
def test_a_mesh_comes_apart_like_the_shape_it_draws(catalogue, tmp_path):
    trimesh.creation.icosphere(subdivisions=4, radius=32.5).export(tmp_path / "ball.stl")
    body = lines(*USUAL, part="shell") + lines(*ACTIVE, part="core")
    text = 'name = "Test"\nkind = "cored"\n[makes]\nmould = "mesh:ball.stl"\n[tub]\ntemperature_c = 38\n' + body
    mix = weigh(read_text(text, catalogue, tmp_path / "recipe.toml"), catalogue)
    drawn, _, _ = told(mix, catalogue)
    plain, _, _ = told(mix_of(catalogue, body, kind="cored"), catalogue)
    assert drawn.gone_s.value == pytest.approx(plain.gone_s.value, rel=0.03)
    assert drawn.shows_s["core"] == pytest.approx(plain.shows_s["core"], rel=0.02)


def test_a_mesh_that_changes_is_read_again(catalogue, tmp_path):
    small, large = tmp_path / "small.stl", tmp_path / "large.stl"
    trimesh.creation.box(extents=(40, 40, 40)).export(small)
    trimesh.creation.icosphere(subdivisions=3, radius=32.5).export(large)
    text = 'name = "Test"\nkind = "fizzer"\n[makes]\nmould = "mesh:piece.stl"\n' + lines(*USUAL)

    def gone(shape: Path) -> float:
        shutil.copyfile(shape, tmp_path / "piece.stl")
        mix = weigh(read_text(text, catalogue, tmp_path / "recipe.toml"), catalogue)
        return told(mix, catalogue)[0].gone_s.value

    assert gone(small) / gone(large) == pytest.approx(20 / 32.5, rel=0.03)


def test_every_mould_of_the_catalogue_comes_apart(catalogue):
    for mould_id in catalogue.moulds:
        release, figures, (_, curves, cutaway) = told(
            mix_of(catalogue, lines(*USUAL), f'mould = "{mould_id}"'), catalogue
        )
        assert 20 < release.gone_s.value < 900, mould_id
        assert {"fizz_seconds", "floats", "turns"} <= set(figures)
        assert 0 <= figures["floats"].low <= figures["floats"].value <= figures["floats"].high <= 1
        assert np.nanmax(cutaway.seconds) == pytest.approx(release.gone_s.value, rel=0.05), mould_id
        assert len(curves) == 2


def test_litres_and_warmth_need_no_new_erosion(catalogue):
    mixes = [
        mix_of(catalogue, lines(*USUAL, part="layer_1") + lines(*ACTIVE, part="layer_2"), kind="layered", tub=tub)
        for tub in ("litres = 100\ntemperature_c = 38", "litres = 160\ntemperature_c = 34")
    ]
    told(mixes[0], catalogue)
    before = parts._solve.cache_info().misses
    told(mixes[1], catalogue)
    assert parts._solve.cache_info().misses == before


def test_the_demo_recipes_are_told_in_plain_words(catalogue, quillmoor):
    for file in sorted((quillmoor / "recipes").glob("*.toml")):
        _, figures, (notices, curves, _) = told(weigh(read_file(file, catalogue), catalogue), catalogue)
        texts = [f.text for f in figures.values()] + [n.text for n in notices] + [c.title for c in curves]
        for text in texts:
            assert text[0].isupper() or text[0].isdigit(), text
            assert text.endswith("."), text
            assert "safe" not in text and "nan" not in text.split(), text


def test_colours_of_the_parts_are_the_callers(catalogue):
    mix = mix_of(catalogue, lines(*USUAL) + lines(*ACTIVE, part="core"), kind="cored")
    size, setting = piece(mix, catalogue), Setting()
    release = dissolving.release(mix, catalogue, setting, size)
    given = dissolving.figures(mix, catalogue, setting, size, release, {"whole": "#112233", "core": "#445566"})[3]
    assert given.part_colours == ("#112233", "#445566")
    assert dissolving.figures(mix, catalogue, setting, size, release)[3].part_colours == (dissolving.PLAIN_COLOUR,) * 2
