"""Light through bath water, beside a matrix exponential, published colour tables and the colour library's own integrator."""

from __future__ import annotations

import subprocess
import sys
import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import expm

from fizzwright.science import tint

with warnings.catch_warnings():
    warnings.filterwarnings("ignore", message='"Matplotlib" related')
    import colour

SPAN = len(tint.WAVELENGTHS_NM)


def at(nm: float) -> int:
    return int(np.argmin(np.abs(tint.WAVELENGTHS_NM - nm)))


def test_a_milligram_of_blue_1_in_a_litre_takes_what_its_molar_absorptivity_says() -> None:
    # 130 000 l/mol/cm at 630 nm and 792.85 g/mol, as teaching laboratories quote them (from memory): the other way round
    # to the same figure as the US specific absorbance of 1638.
    assert tint.absorbance(1.0, 1638.0) == pytest.approx(130_000 * 1e-3 / 792.85, rel=2e-3)
    assert tint.absorbance(1.0, 1638.0) == pytest.approx(0.164, abs=5e-4)


def test_absorbance_is_linear_in_strength_and_path() -> None:
    assert tint.absorbance(3.0, 540.0, 2.0) == pytest.approx(6 * tint.absorbance(1.0, 540.0))
    assert tint.absorbed_per_m(2.0, 540.0) == pytest.approx(100 * np.log(10) * tint.absorbance(2.0, 540.0))


def test_clear_water_follows_beer_and_lambert_both_ways() -> None:
    taken = np.array([0.0, 0.3, 2.0, 9.0])
    assert tint.seen(taken, 0.0, 0.3, 0.8) == pytest.approx(0.8 * 10 ** (-2 * 0.3 * taken / np.log(10)), abs=1e-12)
    assert tint.seen(2 * taken, 0.0, 0.15, 0.8) == pytest.approx(tint.seen(taken, 0.0, 0.3, 0.8), abs=1e-12)


@given(st.floats(0, 30), st.floats(0, 30), st.floats(0.01, 0.6), st.floats(0, 1))
def test_cloudy_water_solves_the_two_streams_of_kubelka_and_munk(
    k: float, s: float, depth: float, floor: float
) -> None:
    # The outside check: their two differential equations, solved upward from the floor by scipy's matrix exponential.
    down, up = expm(np.array([[k + s, -s], [s, -(k + s)]]) * depth) @ np.array([1.0, floor])
    assert float(tint.seen(k, s, depth, floor)) == pytest.approx(up / down, abs=1e-9)


@pytest.mark.parametrize(
    ("ratio", "back"), [(0.0, 1.0), (0.025, 0.8), (0.25, 0.5), (0.8167, 0.3), (4.05, 0.1), (1e9, 0.0)]
)
def test_a_heap_follows_the_table_of_kubelka_and_munk(ratio: float, back: float) -> None:
    # K/S = (1 - R)^2 / 2R, as tabulated in textbooks of colour measurement (for instance Judd and Wyszecki).
    assert float(tint.heap(ratio, 1.0)) == pytest.approx(back, abs=1e-4)


@given(st.floats(0, 50), st.floats(0, 50), st.floats(0, 20), st.sampled_from(["band", "edge", "tail", "grey"]))
def test_more_dye_is_never_lighter(one: float, more: float, cloud: float, kind: str) -> None:
    taken = tint.absorbed_per_m(np.array([one, one + more]), 500.0)
    spectra = np.asarray(taken)[:, None] * tint.shape(kind, 500.0, 40.0, 30.0) + tint.WATER_PER_M
    back = tint.seen(spectra, cloud, 0.3, 0.8)
    assert np.all((back >= 0) & (back <= 1))
    assert np.all(back[1] <= back[0] + 1e-12)
    assert tint.xyz(back)[1, 1] <= tint.xyz(back)[0, 1] + 1e-12


def test_a_band_is_half_as_high_at_its_half_widths_and_an_edge_at_its_middle() -> None:
    band = tint.shape("band", 600.0, 40.0, 20.0)
    assert band[[at(560), at(600), at(620)]] == pytest.approx([0.5, 1.0, 0.5])
    assert tint.shape("edge", 550.0, 1.0, 30.0)[at(550)] == pytest.approx(0.5)
    assert tint.shape("edge", 550.0, 1.0, 30.0)[at(580)] == pytest.approx(0.119, abs=1e-3)
    tail = tint.shape("tail", 610.0, 1.0, 85.0)
    assert tail[at(525)] / tail[at(610)] == pytest.approx(np.e)


@pytest.mark.parametrize("name", list(colour.SDS_COLOURCHECKERS["BabelColor Average"]))
def test_a_spectrum_becomes_the_xyz_that_the_library_integrates(name: str) -> None:
    patch = colour.SDS_COLOURCHECKERS["BabelColor Average"][name]
    eye = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(eye.shape)
    asked = colour.sd_to_XYZ(patch.copy().align(eye.shape), eye, light, method="Integration") / 100
    span = colour.SpectralShape(380, 780, 5)
    assert tint.xyz(patch.copy().align(span).values) == pytest.approx(asked, abs=2e-3)


@pytest.mark.parametrize(
    ("name", "published"),
    [
        ("dark skin", (115, 82, 68)),
        ("light skin", (194, 150, 130)),
        ("blue sky", (98, 122, 157)),
        ("foliage", (87, 108, 67)),
        ("orange", (214, 126, 44)),
        ("purplish blue", (80, 91, 166)),
        ("blue", (56, 61, 150)),
        ("green", (70, 148, 73)),
        ("red", (175, 54, 60)),
        ("yellow", (231, 199, 31)),
        ("neutral 5 (.70 D)", (122, 122, 121)),
    ],
)
def test_the_patches_of_a_colour_chart_come_out_as_its_maker_prints_them(name: str, published: tuple[int, ...]) -> None:
    # sRGB of the chart as its maker publishes it (from memory), reckoned for another daylight and another chart: the difference
    # must be one that is just seen side by side.
    patch = colour.SDS_COLOURCHECKERS["BabelColor Average"][name].copy().align(colour.SpectralShape(380, 780, 5))
    assert float(tint.apart(tint.srgb(patch.values), np.array(published) / 255)) < 0.02


def test_white_is_white_and_oklch_is_that_of_the_standard() -> None:
    assert 255 * tint.srgb(np.ones(SPAN)) == pytest.approx([255, 255, 255], abs=0.5)
    # CSS Color Module Level 4, W3C: red is oklch(62.8% 0.2577 29.23), blue oklch(45.2% 0.3132 264.05).
    assert tint.oklch(tint.from_hex("#ff0000")) == pytest.approx([0.628, 0.2577, 29.23], rel=2e-3)
    assert tint.oklch(tint.from_hex("#0000ff")) == pytest.approx([0.452, 0.3132, 264.05], rel=2e-3)
    assert tint.to_hex(tint.from_hex("#1a2b3c")) == "#1a2b3c"
    assert float(tint.apart(np.ones(3), np.zeros(3))) == pytest.approx(1.0, abs=1e-3)


def test_deep_water_is_blue_and_takes_least_near_418_nm() -> None:
    # Pope and Fry 1997 put the least at 418 nm; that deep clear water is blue anybody can see.
    assert 405 <= tint.WAVELENGTHS_NM[np.argmin(tint.WATER_PER_M)] <= 425
    _, chroma, hue = tint.oklch(tint.srgb(tint.seen(tint.WATER_PER_M, 0.0, 5.0, 0.8)))
    assert chroma > 0.08
    assert 200 < hue < 265


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: tint.absorbance(-1.0, 500.0), "mg_l"),
        (lambda: tint.seen(1.0, np.nan, 0.3, 0.8), "throws_back_per_m"),
        (lambda: tint.seen(1.0, 0.0, 0.3, 1.5), "from 0 to 1"),
        (lambda: tint.shape("lump"), "band, edge, tail, grey, none"),
    ],
)
def test_what_cannot_be_is_refused_in_words(call, said) -> None:
    with pytest.raises(ValueError, match=said):
        call()


def test_the_colour_library_is_read_late_and_quietly() -> None:
    script = (
        "import sys\n"
        "from fizzwright.science import tint\n"
        "assert 'colour' not in sys.modules\n"
        "print(tint.to_hex(tint.srgb(0 * tint.WAVELENGTHS_NM)))\n"
    )
    run = subprocess.run([sys.executable, "-W", "error", "-c", script], capture_output=True, text=True, check=False)
    assert (run.returncode, run.stdout.strip(), run.stderr) == (0, "#000000", "")
