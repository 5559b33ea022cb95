"""The colour of the water of a mix: beside the trade's expectations, sums by hand, and the names of a published colour list."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.model import TapWater, Tub
from fizzwright.review import tint as review_tint
from fizzwright.review.colouring import colouring, depth_m, words
from fizzwright.review.figures import Figure, Notice, Swatch
from fizzwright.review.release import Release
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Range, piece
from fizzwright.science import tint
from tests.review.skin_mixes import Given, mixed

GONE_S = 200.0
TUB = Tub(litres=150.0, powder_g=150.0)


def base(whole_g: float = 150.0) -> list[Given]:
    return [("sodium_bicarbonate", whole_g * 2 / 3), ("citric_acid", whole_g / 3)]


def release(mix: Mix) -> Release:
    """Parts that come apart one after another, in the order of the mix."""
    parts = list(dict.fromkeys(m.part for m in mix.lines if m.part != "whole")) or ["whole"]
    seconds = np.linspace(0.0, GONE_S, 101)
    starts = {part: GONE_S * i / len(parts) for i, part in enumerate(parts)}
    dissolved = {p: np.clip((seconds - s) / (GONE_S / len(parts)), 0, 1) for p, s in starts.items()}
    return Release(seconds, dissolved, Range(GONE_S, 150.0, 300.0), starts, "estimate")


def bathed(
    catalogue: Catalogue, lines: list[Given], tub: Tub = TUB, mould: str | None = None, **more: str
) -> tuple[dict[str, Figure], list[Notice], list[Swatch]]:
    """Figures by id, notices and moments of a powder of these lines (150 g a bath unless the tub says otherwise)."""
    mix = mixed(catalogue, lines, tub=tub, mould=mould, **more)
    told, notices, curves, moments = review_tint.figures(mix, catalogue, Setting(), piece(mix, catalogue), release(mix))
    assert curves == []
    return {f.id: f for f in told}, notices, [Swatch(*moment) for moment in moments]


def lightness(colour: object) -> float:
    return float(tint.oklch(tint.from_hex(str(colour)))[0])


def said(notices: list[Notice]) -> str:
    return " ".join(n.text for n in notices)


@pytest.mark.parametrize("grams", [0.15, 0.75])
def test_a_usual_dose_of_blue_turns_the_bath_clearly_blue(catalogue: Catalogue, grams: float) -> None:
    # Common practice, no source: 0.1 to 0.5 % of blue dye in a 150 g piece makes one to five mg/l in 150 l, a clear blue.
    told, notices, _ = bathed(catalogue, [*base(150 - grams), ("fdc_blue_1", grams)])
    assert 0.8 <= float(told["dye_mg_l.fdc_blue_1"].value) <= 5.0
    assert "blue" in str(told["water_colour"].text).split("Half")[0]
    _, chroma, hue = tint.oklch(tint.from_hex(str(told["water_colour"].value)))
    assert chroma > 0.1
    assert 215 < hue < 275
    assert "hardly" not in said(notices)


def test_milligrams_a_litre_are_those_counted_by_hand(catalogue: Catalogue) -> None:
    told, _, _ = bathed(catalogue, [*base(300.0), ("fdc_blue_1", 0.2)])
    # 150 g of 300.2 g go into 150 l, and 90 % of the powder is dye.
    by_hand = 0.2 * 150 / 300.2 * 1000 * 0.90 / 150
    figure = told["dye_mg_l.fdc_blue_1"]
    assert figure.value == pytest.approx(by_hand)
    assert float(figure.low or 0) < by_hand < float(figure.high or 0)


def test_a_bath_without_colour_is_near_white_and_clear(catalogue: Catalogue) -> None:
    told, notices, moments = bathed(catalogue, base())
    assert lightness(told["water_colour"].value) > 0.95
    assert "clear" in told["water_colour"].text
    assert {m.words for m in moments} == {"clear"}
    assert told["ring_risk"].value == 0
    assert notices == []


@pytest.mark.parametrize(
    ("use", "names"),
    [
        # What the trade calls the water each of these makes (common practice, no source).
        ("fdc_blue_1", ("blue", "turquoise")),
        ("fdc_green_3", ("green", "turquoise")),
        ("fdc_red_40", ("red", "pink", "orange")),
        ("fdc_yellow_5", ("yellow",)),
        ("fdc_yellow_6", ("orange", "yellow", "apricot")),
        ("dc_red_33", ("pink", "crimson", "magenta")),
        ("ext_dc_violet_2", ("violet", "lilac")),
        ("dc_green_5", ("turquoise", "green", "teal")),
        ("dc_yellow_10", ("yellow",)),
    ],
)
def test_each_dye_makes_the_colour_it_is_known_for(catalogue: Catalogue, use: str, names: tuple[str, ...]) -> None:
    _, _, moments = bathed(catalogue, [*base(), (use, 0.1)])
    assert any(name in moments[-1].words for name in names), moments[-1]


def test_yellow_and_blue_make_green(catalogue: Catalogue) -> None:
    _, _, moments = bathed(catalogue, [*base(), ("fdc_blue_1", 0.02), ("fdc_yellow_5", 0.15)])
    assert "green" in moments[-1].words


@settings(max_examples=25, deadline=None)
@given(st.floats(0.001, 2.0), st.floats(1.0, 20.0), st.sampled_from(["fdc_blue_1", "fdc_red_40", "iron_oxide_red"]))
def test_more_colour_is_never_lighter(catalogue: Catalogue, grams: float, times: float, use: str) -> None:
    mix = mixed(catalogue, [*base(), (use, grams)], tub=TUB, mould=None)
    colours = colouring(mix, catalogue)
    mg_l = 1000 * mix.grams / 150 * np.array([[1.0], [times]])
    absorbs = tint.WATER_PER_M + mg_l @ colours.absorbs
    back = tint.xyz(tint.seen(absorbs, mg_l[:, :1] * 0, depth_m(150.0), 0.8))[:, 1]
    assert back[1] <= back[0] + 1e-12


def test_the_range_runs_from_the_palest_to_the_deepest(catalogue: Catalogue) -> None:
    told, _, _ = bathed(catalogue, [*base(), ("fdc_blue_1", 0.1)], Tub(powder_g=150.0))
    figure = told["water_colour"]
    assert lightness(figure.high) < lightness(figure.value) < lightness(figure.low)


def test_the_core_colours_the_water_only_once_it_shows(catalogue: Catalogue) -> None:
    shell: list[Given] = [(use, grams, {"part": "shell"}) for use, grams, *_ in base(100.0)]
    core: list[Given] = [(use, grams, {"part": "core"}) for use, grams, *_ in base(50.0)]
    lines = [*shell, ("fdc_yellow_5", 0.1, {"part": "shell"}), *core, ("fdc_blue_1", 0.1, {"part": "core"})]
    _, _, moments = bathed(catalogue, lines, mould="sphere_65")
    assert [m.seconds for m in moments] == sorted(m.seconds for m in moments)
    assert moments[0].words == "clear"
    before = [m for m in moments if 0 < m.seconds <= GONE_S / 2]
    assert all("yellow" in m.words for m in before), before
    assert "green" in moments[-1].words or "blue" in moments[-1].words


def test_a_colour_in_every_part_follows_all_parts(catalogue: Catalogue) -> None:
    lines: list[Given] = [(u, g, {"part": p}) for p in ("layer_1", "layer_2") for u, g, *_ in base(75.0)]
    _, _, moments = bathed(catalogue, [*lines, ("fdc_blue_1", 0.1)], mould="sphere_65")
    light = [lightness(m.colour) for m in moments]
    assert light == sorted(light, reverse=True)
    assert "blue" in moments[-1].words


def ring(catalogue: Catalogue, lines: list[Given], water: str | TapWater | None = None) -> float:
    told, _, _ = bathed(catalogue, [*base(), *lines], replace(TUB, water=water))
    return float(told["ring_risk"].value)


def test_a_ring_needs_colour_and_grows_with_oil_and_lime_and_shrinks_with_an_emulsifier(catalogue: Catalogue) -> None:
    pigment: list[Given] = [("iron_oxide_red", 0.3)]
    oil: list[Given] = [("olive_oil", 6.0)]
    alone = ring(catalogue, pigment)
    oily = ring(catalogue, [*pigment, *oil])
    assert ring(catalogue, oil) == 0
    assert 0 < alone < ring(catalogue, [*pigment, ("olive_oil", 2.0)]) < oily < 1
    assert alone < ring(catalogue, [*pigment, *oil, ("polysorbate_80", 2.0)]) < oily
    assert ring(catalogue, [*pigment, *oil, ("polysorbate_80", 8.0)]) < 1.1 * alone
    assert [ring(catalogue, [*pigment, *oil], w) for w in ("soft", "moderately_hard", "hard", "very_hard")] == sorted(
        ring(catalogue, [*pigment, *oil], w) for w in ("very_hard", "hard", "moderately_hard", "soft")
    )


def test_the_ring_is_the_sum_that_its_working_tells(catalogue: Catalogue) -> None:
    water = TapWater(alkalinity_mmol_l=4.8, calcium_mmol_l=2.0, magnesium_mmol_l=0.5)
    told, notices, _ = bathed(
        catalogue, [*base(), ("iron_oxide_red", 0.4), ("olive_oil", 8.0)], replace(TUB, water=water)
    )
    figure = told["ring_risk"]
    made_g = 150 + 0.4 + 8
    clings, free, hard = 400 * 150 / made_g, 8 * 150 / made_g, 2.5 * 100.087
    assert [i.value for i in figure.working.inputs] == pytest.approx([clings, free, hard])
    by_hand = clings / (clings + 50) * (0.2 + 0.8 * free / (free + 2)) * (0.7 + 0.3 * hard / (hard + 120))
    assert figure.value == pytest.approx(by_hand)
    notice = next(n for n in notices if n.figure == "ring_risk")
    assert (notice.level, notice.standing) == ("mind", False)
    for advice in ("washing-up liquid", "before", "less colour", "emulsifier"):
        assert advice in notice.text


def test_too_much_dye_stains_and_the_amount_told_does_not(catalogue: Catalogue) -> None:
    _, notices, _ = bathed(catalogue, [*base(), ("fdc_red_40", 8.0)])
    stain = next(n for n in notices if "towels" in n.text)
    grams = float(stain.text.split("About ")[1].split(" g")[0])
    _, fewer, _ = bathed(catalogue, [*base(), ("fdc_red_40", grams)])
    assert "towels" not in said(fewer)
    _, more, _ = bathed(catalogue, [*base(), ("fdc_red_40", grams * 1.25)])
    assert "towels" in said(more)


def test_a_colour_that_hardly_shows_is_told_with_how_much_would(catalogue: Catalogue) -> None:
    _, notices, moments = bathed(catalogue, [*base(), ("fdc_blue_1", 0.002)])
    faint = next(n for n in notices if "hardly" in n.text)
    grams = float(faint.text.split("about ")[1].split(" g")[0])
    _, then, stronger = bathed(catalogue, [*base(), ("fdc_blue_1", grams)])
    assert "hardly" not in said(then)
    assert lightness(stronger[-1].colour) < lightness(moments[-1].colour)
    # Betanin is half a percent of the powder: bathers see next to nothing (common practice, no source).
    assert "hardly" in said(bathed(catalogue, [*base(), ("beetroot_powder", 0.3)])[1])


def test_mica_and_glitter_glitter_but_do_not_colour(catalogue: Catalogue) -> None:
    told, notices, _ = bathed(catalogue, [*base(), ("mica", 0.5), ("cellulose_glitter", 0.2)])
    without, _, _ = bathed(catalogue, base())
    seen, plain = (tint.from_hex(str(one["water_colour"].value)) for one in (told, without))
    assert float(tint.apart(seen, plain)) < 0.02
    assert "no colour for the water" in said(notices)
    assert all(n.standing for n in notices if "glitter" in n.text)


def test_clay_and_dispersed_oil_cloud_the_water(catalogue: Catalogue) -> None:
    assert "milky" in bathed(catalogue, [*base(120.0), ("kaolin", 30.0)])[2][-1].words
    oil: list[Given] = [("olive_oil", 8.0)]
    assert bathed(catalogue, [*base(), *oil])[2][-1].words == "clear"
    assert "white" in bathed(catalogue, [*base(), *oil, ("polysorbate_80", 6.0)])[2][-1].words


def test_what_glows_and_what_only_oil_dissolves_is_said(catalogue: Catalogue) -> None:
    assert "glows" in bathed(catalogue, [*base(), ("dc_yellow_8", 0.05)])[0]["water_colour"].text
    told, notices, _ = bathed(catalogue, [*base(), ("beta_carotene", 0.2), ("olive_oil", 4.0)])
    assert "clear" in told["water_colour"].text.split("Half")[0]
    assert "soluble in oil" in said(notices)
    spread = bathed(catalogue, [*base(), ("beta_carotene", 0.2), ("olive_oil", 4.0), ("polysorbate_80", 4.0)])
    assert any(name in spread[2][-1].words for name in ("yellow", "orange"))


def own(catalogue: Catalogue, material: Material) -> Catalogue:
    return replace(catalogue, materials={**catalogue.materials, material.id: material})


def test_a_colour_nothing_is_held_of_is_left_out_and_said(catalogue: Catalogue) -> None:
    mine = own(catalogue, Material("quay_brown", "quay brown", function="colourant", bulk_density_loose_g_ml_typ=0.5))
    told, notices, _ = bathed(mine, [*base(), ("quay_brown", 0.5)])
    assert "Left out: quay brown" in told["water_colour"].text
    assert "quay brown" in said(notices)


def test_a_lake_bleeds_only_a_part_of_its_dye(catalogue: Catalogue) -> None:
    lake = Material(
        "blue_1_lake",
        "Blue 1 aluminium lake",
        function="colourant",
        inci="Blue 1 Lake",
        inci_eu="CI 42090",
        bulk_density_loose_g_ml_typ=0.5,
    )
    mine = own(catalogue, lake)
    of_lake, notices, _ = bathed(mine, [*base(), ("blue_1_lake", 0.05)])
    of_dye, _, _ = bathed(mine, [*base(), ("fdc_blue_1", 0.05)])
    assert lightness(of_lake["water_colour"].value) > lightness(of_dye["water_colour"].value)
    assert "Blue 1 aluminium lake: seen in the water, but not dissolved" in said(notices)


def test_the_dry_piece_takes_colour_part_by_part(catalogue: Catalogue) -> None:
    lines: list[Given] = [(u, g, {"part": p}) for p in ("layer_1", "layer_2") for u, g, *_ in base(75.0)]
    mix = mixed(catalogue, [*lines, ("fdc_blue_1", 0.1, {"part": "layer_2"})])
    dry = review_tint.dry_colours(mix, catalogue)
    assert dry["layer_1"] == "#f3efe6"
    assert "blue" in words(tint.from_hex(dry["layer_2"])) or "turquoise" in words(tint.from_hex(dry["layer_2"]))
    deeper = review_tint.dry_colours(mixed(catalogue, [*lines, ("fdc_blue_1", 0.5, {"part": "layer_2"})]), catalogue)
    assert lightness(deeper["layer_2"]) < lightness(dry["layer_2"]) < lightness(dry["layer_1"])
    red = review_tint.dry_colours(mixed(catalogue, [*base(), ("iron_oxide_red", 0.5)]), catalogue)["whole"]
    light, chroma, hue = tint.oklch(tint.from_hex(red))
    assert light < 0.92
    assert chroma > 0.02
    assert 15 < hue < 70


@pytest.mark.parametrize(
    ("colour", "name"),
    [
        # The named colours of the W3C's CSS Color Module: a plain name must share the word that its list uses.
        ("#add8e6", "blue"), ("#87ceeb", "blue"), ("#00bfff", "blue"), ("#4169e1", "blue"), ("#00008b", "deep blue"),
        ("#00ffff", "turquoise"), ("#00ced1", "turquoise"), ("#008080", "teal"), ("#2e8b57", "green"),
        ("#90ee90", "green"), ("#006400", "green"), ("#9acd32", "yellow-green"), ("#ffff00", "yellow"),
        ("#ffffe0", "very pale yellow"), ("#ffd700", "golden yellow"), ("#ffa500", "orange"), ("#ff0000", "red"),
        ("#fa8072", "red"), ("#ffc0cb", "pale pink"), ("#ff69b4", "pink"), ("#ff00ff", "magenta"),
        ("#9400d3", "violet"), ("#8b4513", "brown"), ("#f4a460", "orange"), ("#d2b48c", "brown"), ("#808080", "grey"),
        ("#000000", "near black"), ("#ffffff", "near white"),
    ],
)  # fmt: skip
def test_words_agree_with_a_published_list_of_names(colour: str, name: str) -> None:
    assert name in words(tint.from_hex(colour))


def test_depth_is_that_of_common_tubs(catalogue: Catalogue) -> None:
    # A tub of 150 l stands about 30 cm deep; fact baby_depth gives 8 to 10 cm for a baby's bath of 8 to 25 l.
    assert depth_m(150.0) == pytest.approx(0.3, abs=0.05)
    shallow = catalogue.fact("baby_depth")
    assert (shallow.min or 0) / 100 <= depth_m(15.0) <= (shallow.max or 0) / 100


def test_every_figure_tells_its_working_and_no_text_gives_a_clean_bill(catalogue: Catalogue) -> None:
    lines: list[Given] = [
        ("fdc_blue_1", 3.0),
        ("iron_oxide_red", 1.0),
        ("mica", 0.5),
        ("olive_oil", 6.0),
        ("guaiazulene", 0.1),
    ]
    told, notices, _ = bathed(catalogue, [*base(), *lines])
    for figure in told.values():
        assert figure.working.equation
        assert figure.working.inputs
        assert figure.basis == "estimate"
        assert set(figure.sources) <= catalogue.sources.keys()
        assert "safe" not in figure.text.lower()
    for notice in notices:
        assert set(notice.sources) <= catalogue.sources.keys()
        assert notice.reason
        assert "safe" not in (notice.text + notice.reason).lower()
    assert {n.figure for n in notices if n.figure} <= told.keys()
