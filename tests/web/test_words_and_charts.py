"""Form and document, numbers as shown, and the chart specs."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from fizzwright.catalogue import load
from fizzwright.demo import folder
from fizzwright.review import Figure, Review, Section
from fizzwright.review.figures import Working
from fizzwright.web import charts
from fizzwright.web.forms import of_document, written
from fizzwright.web.shelf import NoRecipe, Shelf, stem_of
from fizzwright.web.views import Views, plain_grams, rounding_text, split_unit

ORCHARD = (folder() / "recipes" / "orchard_rain.toml").read_text(encoding="utf-8")
GOLDEN = Path(__file__).parent / "golden_composition.json"


def test_an_untouched_form_writes_the_document_it_came_from() -> None:
    for file in (folder() / "recipes").glob("*.toml"):
        text = file.read_text(encoding="utf-8")
        form = of_document(text, "")
        assert written(form, text, {}).text == text


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1).map(str.strip).filter(bool))
@settings(max_examples=60, deadline=None)
def test_whatever_name_is_typed_is_what_toml_reads_back(name: str) -> None:
    # The TOML side is tomlkit's, not ours.
    form = of_document(ORCHARD, "")
    form = replace(form, values={**form.values, "name": name})
    assert tomlkit.parse(written(form, ORCHARD, {}).text)["name"] == name


def test_taking_out_and_adding_leaves_the_other_lines_as_toml_reads_them() -> None:
    form = of_document(ORCHARD, "").with_out(2, True).with_new_line()
    lines = (*form.lines[:-1], replace(form.lines[-1], use="kaolin", amount="1 tbsp"))
    result = written(replace(form, lines=lines), ORCHARD, {})
    before, after = (tomlkit.parse(t).unwrap()["line"] for t in (ORCHARD, result.text))
    assert after == [*before[:2], *before[3:], {"use": "kaolin", "amount": "1 tbsp"}]
    assert result.order == (0, 1, 3, 4, 5, 6, 7, 8, 9, 10)


def test_water_of_a_class_replaces_a_report() -> None:
    form = of_document(ORCHARD, "")
    assert form.values["water"] == "own"
    soft = written(replace(form, values={**form.values, "water": "soft"}), ORCHARD, {}).text
    assert tomlkit.parse(soft)["tub"]["water"] == "soft"


@pytest.mark.parametrize(
    ("name", "stem"),
    [("Orchard Rain", "orchard_rain"), ("  A--b/c  ", "a_b_c"), ("../..", "recipe"), ("🛁", "recipe"), ("Été", "été")],
)
def test_stems(name: str, stem: str) -> None:
    assert stem_of(name) == stem


@given(st.text(max_size=300))
@settings(max_examples=200, deadline=None)
def test_a_stem_never_leaves_the_shelf(name: str) -> None:
    shelf = Shelf(Path("/somewhere/recipes"))
    assert shelf.path(stem_of(name)).parent == shelf.folder
    try:
        assert shelf.path(name).parent == shelf.folder
    except NoRecipe:
        assert name != "orchard_rain"


@pytest.mark.parametrize(
    ("grams", "step", "shown"), [(330.24, 0.01, "330"), (63.876, 0.01, "63.9"), (9.023, 0.01, "9.02"), (9.6, 1.0, "10")]
)
def test_rounding_shown_is_rounding_weighed(grams: float, step: float, shown: str) -> None:
    assert plain_grams(grams, step) == shown


@pytest.mark.parametrize(
    ("unit", "beside"),
    [
        ("%", ("%", "")),
        ("% of the cured piece", ("%", "of the cured piece")),
        ("GBP minor", ("GBP minor", "")),
        ("mg/cm2", ("", "mg/cm2")),
        ("of 10", ("", "of 10")),
    ],
)
def test_long_units_stand_beneath(unit: str, beside: tuple[str, str]) -> None:
    assert split_unit(unit) == beside


@pytest.mark.parametrize(
    ("pct", "shown"), [(0.74, "+0.7\u202f%"), (-2.3, "−2.3\u202f%"), (-0.00059, "none"), (0, "none")]
)
def test_rounding_that_does_not_show_is_none(pct: float, shown: str) -> None:
    assert rounding_text(pct) == shown


def test_a_limit_shows_what_it_was_compared_with() -> None:
    views = Views(load().sources)
    figure = Figure("limit.a.b", 0.031, "% of the cured piece", "x", Working("y"), 0.02, 0.04, high_allowed=0.5)
    shown = views.figure("skin", figure)
    assert shown.weight == "0.031\u202f%"
    assert shown.beneath == ("of 0.5\u202f% allowed", "0.02 to 0.04")
    exact = Figure("batch", 1515, "GBP minor", "x", Working("y"), basis="exact")
    assert views.figure("cost", exact).weight == "£15.15"
    assert views.figure("cost", exact).beneath == ()


def _report() -> Review:
    rows = tuple(
        {"name": name, "part": part, "grams": grams, "share_pct": share}
        for name, part, grams, share in (
            ("citric acid", "whole", 25.0, 25.0),
            ("bicarbonate", "shell", 70.0, 70.0),
            ("orange", "whole", 5.0, 5.0),
        )
    )
    costs = tuple(
        Figure(name, minor, "GBP minor", "", Working("")) for name, minor in (("materials", 254), ("labour", 888))
    )
    return Review("R", date(2026, 11, 25), "v", (Section("cost", "Cost", costs),), rows)


def test_the_composition_chart_is_the_one_agreed() -> None:
    # Golden: a changed spec is read and agreed like code; write it again with
    #   python -c "from tests.web.test_words_and_charts import write_golden; write_golden()"
    assert charts.composition(_report()) == json.loads(GOLDEN.read_text(encoding="utf-8"))


def write_golden() -> None:
    GOLDEN.write_text(json.dumps(charts.composition(_report()), indent=1, sort_keys=True) + "\n", encoding="utf-8")


def test_charts_say_their_finding_and_start_at_zero() -> None:
    report = _report()
    assert charts.composition_title(report) == "Most of the mix is bicarbonate: 70.0\u202f% by weight"
    assert charts.cost_title(report) == "What costs most is your hands: £8.88 a batch"
    spec = charts.cost(report)
    assert spec is not None
    assert spec["layer"][0]["encoding"]["x"]["scale"]["zero"] is True
    assert [row["amount"] for row in spec["data"]["values"]] == [888, 254]


def test_bars_are_as_long_as_their_numbers() -> None:
    # Measured on the drawn SVG, whose making is Vega's: widths in the ratio of the amounts.
    import re

    svg = charts.drawn(charts.composition(_report()))
    widths = [
        float(w) for w in re.findall(r'<path aria-label="[^"]*" role="graphics-symbol"[^>]*d="M[\d.,]+h([\d.]+)', svg)
    ]
    assert widths == pytest.approx([336.0, 336.0 * 25 / 70, 336.0 * 5 / 70], rel=1e-3)
    assert "style=" not in svg
