"""The amounts a page tells: put them in, look again, and nothing of that oil stops the piece any more."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import fizzwright
from fizzwright.catalogue import Catalogue, load
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix
from fizzwright.review import review
from fizzwright.review.figures import Notice, Section
from tests.review.skin_mixes import Given, mixed, on_skin, said

CATALOGUE = load()
OILS = sorted(CATALOGUE.oils)
DEMO = Path(fizzwright.__file__).parent / "demo" / "quillmoor" / "recipes"
AUDIENCES = ("adult", "child_6_plus", "child_2_plus", "pregnancy")


def told(notices: list[Notice], catalogue: Catalogue, uses: list[str]) -> dict[str, float]:
    """What a page says of each oil, read off its stops: grams, 0 for leaving it out; one amount for one oil."""
    found: dict[str, set[float]] = {}
    for notice in notices:
        for use in uses:
            name = re.escape((catalogue.oils.get(use) or catalogue.constituents[use]).name)
            for grams in re.findall(rf"([\d.]+) g of {name}(?: \(|,|\.| and)", notice.text.split("To mix it")[0]):
                found.setdefault(use, set()).add(float(grams))
            if re.search(rf"(Leave out [^.]*{name}|even one drop of [^:]*{name})", notice.text):
                found.setdefault(use, set()).add(0.0)
            # Notices on one oil that no amount makes right.
            if notice.line == use and re.search(r"Leave it out", notice.text):
                found.setdefault(use, set()).add(0.0)
    assert all(len(amounts) == 1 for amounts in found.values()), found
    return {use: amounts.pop() for use, amounts in found.items()}


def stops(mix: Mix) -> list[Notice]:
    return said(on_skin(CATALOGUE, mix), "stop")


@settings(max_examples=120, deadline=None)
@given(
    st.dictionaries(st.sampled_from(OILS), st.floats(0.02, 30).map(lambda g: round(g, 2)), min_size=1, max_size=4),
    st.sampled_from(AUDIENCES),
    st.sampled_from([0.0, 2.0, 30.0]),
    st.sampled_from([0.0, 5.0, 200.0]),
    st.sampled_from([(), ("uk",), ("eu", "us")]),
)
def test_what_is_told_cures(
    oils: dict[str, float], audience: str, carrier_g: float, polysorbate_g: float, sold_in: tuple[str, ...]
) -> None:
    base: list[Given] = [("sodium_bicarbonate", 200.0), ("citric_acid", 100.0), ("isopropyl_alcohol_91", 4.0)]
    base += [("olive_oil", carrier_g)] if carrier_g else []
    base += [("polysorbate_80", polysorbate_g)] if polysorbate_g else []
    section = on_skin(CATALOGUE, mixed(CATALOGUE, [*base, *oils.items()], audience=audience, sold_in=sold_in))
    advice = told(list(section.notices), CATALOGUE, list(oils))
    before = said(section, "stop")
    assert bool(advice) is bool(before), [n.text for n in before]
    kept = {use: advice.get(use, grams) for use, grams in oils.items()}
    assert all(kept[use] <= oils[use] for use in oils)
    lines = [*base, *((use, grams) for use, grams in kept.items() if grams)]
    assert not stops(mixed(CATALOGUE, lines, audience=audience, sold_in=sold_in))


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(OILS), st.floats(5, 60), st.sampled_from(AUDIENCES), st.booleans())
def test_it_is_the_most_that_fits(use: str, grams: float, audience: str, dispersed: bool) -> None:
    base: list[Given] = [("sodium_bicarbonate", 200.0), ("citric_acid", 100.0), ("olive_oil", 20.0)]
    base += [("polysorbate_80", 300.0)] if dispersed else []
    advice = told(stops(mixed(CATALOGUE, [*base, (use, round(grams, 2))], audience=audience)), CATALOGUE, [use])
    most = advice.get(use, 0.0)
    if most:
        step = 1.0 if most >= 20 else 0.1 if most >= 1 else 0.01
        assert stops(mixed(CATALOGUE, [*base, (use, round(most + step, 2))], audience=audience))


def test_the_limit_by_hand(catalogue: Catalogue) -> None:
    # IFRA category 9: cinnamaldehyde 0.49 % of the piece. With a share s of it in the oil, x g of oil in 150 g of the rest
    # reach it at s x / (150 + x) = 0.49, so x = 150 x 0.49 / (s - 0.49): the piece shrinks with the oil.
    share = next(
        row.typical_pct for row in catalogue.oils["cinnamon_bark"].constituents if row.constituent == "cinnamaldehyde"
    )
    assert share
    exact = 150 * 0.49 / (share - 0.49)
    base: list[Given] = [("sodium_bicarbonate", 110.0), ("polysorbate_80", 40.0)]
    (stop,) = (n for n in stops(mixed(catalogue, [*base, ("cinnamon_bark", 5.0)])) if "innamaldehyde" in n.text)
    assert told([stop], catalogue, ["cinnamon_bark"])["cinnamon_bark"] == pytest.approx(int(exact * 10) / 10)
    # 30 drops a millilitre by the catalogue's table of measures.
    oil = catalogue.oils["cinnamon_bark"]
    density = ((oil.density_g_ml_20c_min or 0) + (oil.density_g_ml_20c_max or 0)) / 2
    assert f"({int(int(exact * 10) / 10 / density * 30)} drops)" in stop.text


def advised(text: str, notices: list[Notice]) -> str:
    """The document with what a page says put in: grams where an amount is told, the line gone where none fits."""
    uses = re.findall(r'use = "(\w+)"', text)
    scents = [use for use in uses if use in CATALOGUE.oils]
    for use, grams in told(notices, CATALOGUE, scents).items():
        block = re.compile(rf'\[\[line\]\]\nuse = "{use}"\namount = "[^"]*"\n((?:\w+ = .*\n)*)\n?')
        new = rf'[[line]]\nuse = "{use}"\namount = "{grams} g"\n\1\n' if grams else ""
        text, count = block.subn(new, text)
        assert count == 1
    return text


@pytest.mark.parametrize("name", ["hearth", "noon"])
@pytest.mark.parametrize("polysorbate", ["", '\n[[line]]\nuse = "polysorbate_80"\namount = "80 g"\n'])
def test_the_demos_that_stop_are_cured_by_what_they_are_told(name: str, polysorbate: str) -> None:
    text = (DEMO / f"{name}.toml").read_text(encoding="utf-8") + polysorbate
    first = review(read_text(text, CATALOGUE), CATALOGUE)
    assert first.verdict == "stop"
    cured = advised(text, [n for _, n in first.notices if n.level == "stop"])
    assert cured != text
    second = review(read_text(cured, CATALOGUE), CATALOGUE)
    assert not [n.text for n in second.section("skin").notices if n.level == "stop"]


PERCENT = """name = "Any"
kind = "fizzer"
[makes]
mould = "sphere_65"
count = {count}
[[line]]
use = "sodium_bicarbonate"
amount = "{base}"
[[line]]
use = "citric_acid"
amount = "{acid}"
[[line]]
use = "polysorbate_80"
amount = "30 %"
[[line]]
use = "cinnamon_bark"
amount = "{oil}"
"""


@pytest.mark.parametrize(
    ("base", "acid", "oil"),
    [("200 g", "100 g", "4 %"), ("2 parts", "1 part", "12 g"), ("2 parts", "1 part", "4 %"), ("44 %", "22 %", "4 %")],
)
def test_shares_of_the_mix_move_with_the_oil(base: str, acid: str, oil: str) -> None:
    text = PERCENT.format(count=2, base=base, acid=acid, oil=oil)
    stopping = [
        n
        for n in review(read_text(text, CATALOGUE), CATALOGUE).section("skin").notices
        if n.level == "stop" and "Cinnamon bark" in n.text
    ]
    assert stopping
    if oil.endswith("%"):
        found = re.search(r"at most ([\d.]+) % of the mix of Cinnamon bark", stopping[0].text)
        assert found
        new = f"{found[1]} %"
        if base.endswith("%"):
            # Where all is percent, what the oil gives up goes to the base.
            text = text.replace(base, f"{44 + 4 - float(found[1]):.3f} %")
    else:
        found = re.search(r"at most ([\d.]+ g) of Cinnamon bark", stopping[0].text)
        assert found
        new = found[1]
    cured = review(read_text(text.replace(oil, new), CATALOGUE), CATALOGUE).section("skin")
    assert not [n.text for n in cured.notices if n.level == "stop"]


def test_what_is_told_to_add_is_enough(catalogue: Catalogue) -> None:
    lines: list[Given] = [
        ("sodium_bicarbonate", 200.0),
        ("olive_oil", 17.3),
        ("lavender", 0.37),
        ("polysorbate_80", 3.0),
    ]
    (notice,) = (n for n in on_skin(catalogue, mixed(catalogue, lines)).notices if n.figure == "film_pct")
    found = re.search(r"add about ([\d.]+) g more of polysorbate 80 \((.+?) teaspoons?\)", notice.text)
    assert found and "The 3 g of polysorbate 80 in it is not enough" in notice.text
    more = [*lines, ("polysorbate_80", float(found[1]))]
    after = on_skin(catalogue, mixed(catalogue, more))
    assert any("enough solubiliser" in n.text for n in after.notices)
    # 4 g a gram of scent, 0.5 g a gram of fixed oil, 3 g there: 7.13 g; 4.93 ml teaspoons of 1.07 g/ml are 5.27 g.
    assert float(found[1]) == pytest.approx(7.2) and found[2] == "1 1/2"


def test_film_figure_and_notice_agree_when_there_is_enough(catalogue: Catalogue) -> None:
    neat: list[Given] = [("sodium_bicarbonate", 200.0), ("lavender", 1.0), ("polysorbate_80", 4.0)]
    section = on_skin(catalogue, mixed(catalogue, neat))
    assert "If nothing dispersed it" in section.figure("film_pct").text
    assert "enough solubiliser" in section.figure("film_pct").text
    assert "There is enough" in section.figure("dispersed_share_pct").text
    short = on_skin(catalogue, mixed(catalogue, [*neat[:2], ("polysorbate_80", 3.99)]))
    assert "too little" in short.figure("dispersed_share_pct").text
    assert "3.99 g of solubiliser where it takes about 4 g" in short.figure("dispersed_share_pct").text


def test_substitutes_are_named(catalogue: Catalogue) -> None:
    base: list[Given] = [("sodium_bicarbonate", 200.0), ("olive_oil", 10.0)]
    for use, other in (
        ("bergamot_expressed", "Bergamot FCF"),
        ("lime_expressed", "Lime (distilled)"),
        ("lemon_expressed", "Lemon (distilled)"),
    ):
        (stop,) = (
            n
            for n in stops(mixed(catalogue, [*base, (use, 2.0)], audience="child_6_plus"))
            if n.figure == "sun_share_of_film_limit"
        )
        assert f"Use {other}" in stop.text and f"in place of {catalogue.oils[use].name}" in stop.text
    (stop,) = (
        n
        for n in stops(mixed(catalogue, [*base, ("grapefruit", 5.0)], audience="child_6_plus"))
        if n.figure == "sun_share_of_film_limit"
    )
    assert "Use a distilled or furocoumarin-free oil" in stop.text


def test_one_substance_one_notice(catalogue: Catalogue) -> None:
    section: Section = on_skin(
        catalogue, mixed(catalogue, [("sodium_bicarbonate", 100.0), ("basil_estragole", 3.0), ("nutmeg", 3.0)])
    )
    about = [n for n in section.notices if n.text.lower().startswith("methyl eugenol")]
    rules = [f.id for f in section.figures if f.id.endswith(".methyl_eugenol")]
    assert len(about) == 1 and len(rules) > 1
    assert (
        about[0].figure
        == max((section.figure(rule) for rule in rules), key=lambda figure: figure.share_of_limit or 0).id
    )
    assert about[0].text.count(" allows ") == sum(
        (section.figure(rule).share_of_limit or 0) > 0.8
        or float(section.figure(rule).high or 0) > float(section.figure(rule).high_allowed or 0)
        for rule in rules
    )


def test_traces_are_said_to_be_traces(catalogue: Catalogue) -> None:
    figure = on_skin(
        catalogue, mixed(catalogue, [("sodium_bicarbonate", 300.0), ("olive_oil", 9.0), ("ginger", 0.1)])
    ).figure("limit.ifra.citral")
    assert 0 < float(figure.value) < 0.001 and "below 0.001 %" in figure.text


def test_nothing_is_cut_where_nothing_stops() -> None:
    for path in sorted(DEMO.glob("*.toml")):
        if path.stem not in ("hearth", "noon", "loft_heart"):
            assert review(read_text(path.read_text(encoding="utf-8"), CATALOGUE), CATALOGUE).verdict != "stop", path
