"""Reading documents: what is good is read exactly, what is not is refused with file, row, field, read and allowed."""

import os
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import Catalogue, load
from fizzwright.recipe.document import MOST_BYTES, read_file, read_text
from fizzwright.recipe.model import Recipe, TapWater
from fizzwright.recipe.problems import Problem, RecipeRefused
from fizzwright.refusal import Refusal

from .documents import ORCHARD, documents

CATALOGUE = load()
"""For property tests: a fixture would be spelled out in full with every failure."""

HEAD = 'name = "Drift"\nkind = "fizzer"\n'
LINE = '[[line]]\nuse = "sodium_bicarbonate"\namount = "1 cup"\n'
CITRIC = '[[line]]\nuse = "citric_acid"\namount = "100 g"\n'


def problems(text: str, catalogue: Catalogue) -> tuple[Problem, ...]:
    with pytest.raises(RecipeRefused) as refused:
        read_text(text, catalogue, Path("drift.toml"))
    assert str(refused.value), "a refusal must say something"
    for problem in refused.value.problems:
        assert problem.file == "drift.toml"
        assert problem.text.endswith(".") or "Write for example" in problem.text
    return refused.value.problems


def test_the_contract_example_is_read_exactly(catalogue: Catalogue) -> None:
    recipe = read_text(ORCHARD, catalogue)
    assert (recipe.name, recipe.kind, recipe.audience, recipe.measures) == ("Orchard Rain", "fizzer", "adult", "us")
    assert recipe.sold_in == ("us", "eu")
    assert recipe.made_on == date(2026, 11, 25)
    assert (recipe.makes.mould, recipe.makes.count) == ("sphere_65", 4)
    assert (recipe.tub.litres, recipe.tub.temperature_c, recipe.tub.water) == (150, 38, "moderately_hard")
    assert [line.use for line in recipe.lines] == ["sodium_bicarbonate", "citric_acid", "coconut_oil", "sweet_orange"]
    assert [line.amount.number for line in recipe.lines] == [Fraction(3, 2), Fraction(3, 4), 1, 9]
    orange = recipe.lines[3]
    assert (orange.lot, orange.diluted_in, orange.part) == ("SO-2411-02", "coconut_oil", "whole")
    assert ORCHARD.split("\n")[orange.row - 1] == "[[line]]"
    assert recipe.text == ORCHARD


def test_what_is_left_out_has_its_default(catalogue: Catalogue) -> None:
    recipe = read_text(HEAD + LINE, catalogue)
    expected = Recipe("Drift", "fizzer", recipe.lines, text=HEAD + LINE)
    assert recipe == expected


def test_windows_line_ends_and_byte_order_mark_change_nothing(catalogue: Catalogue, tmp_path: Path) -> None:
    file = tmp_path / "orchard.toml"
    file.write_bytes(b"\xef\xbb\xbf" + ORCHARD.replace("\n", "\r\n").encode())
    before = file.read_bytes()
    assert read_file(file, catalogue).lines == read_text(ORCHARD, catalogue).lines
    assert file.read_bytes() == before


@pytest.mark.parametrize("name", ["مطر البستان", "גשם", "🍊🛁", "👩‍🔬 Pebbles", "Größe 65", "O'Rain & co. <b>"])
def test_names_of_any_script_are_kept(catalogue: Catalogue, name: str) -> None:
    assert read_text(f'name = "{name}"\nkind = "fizzer"\n' + LINE, catalogue).name == name


@pytest.mark.parametrize(
    "name", ["a\\u202Eb", "a\\u2066b", "a\\tb", "a\\nb", "a\\u0000b", "a\\u2028b", "", "  ", "x" * 101]
)
def test_names_that_hide_or_turn_letters_are_refused(catalogue: Catalogue, name: str) -> None:
    (problem,) = problems(f'name = "{name}"\nkind = "fizzer"\n' + LINE, catalogue)
    assert (problem.field, problem.row) == ("name", 1)
    assert all(c.isprintable() for c in str(problem))


def test_water_of_ones_own_report(catalogue: Catalogue) -> None:
    text = HEAD + "[tub]\nwater = { alkalinity_mmol_l = 1.9, calcium_mmol_l = 0.9, ph = 7.6 }\n" + LINE
    assert read_text(text, catalogue).tub.water == TapWater(1.9, 0.9, 0.0, 7.6)


def test_dates_as_text_and_pieces_a_bath(catalogue: Catalogue) -> None:
    recipe = read_text('made_on = "2026-11-25"\n' + HEAD + "[tub]\npieces = 3\npowder_g = 60\n" + LINE, catalogue)
    assert (recipe.made_on, recipe.tub.pieces, recipe.tub.powder_g) == (date(2026, 11, 25), 3, 60)


def test_parts_of_layered_and_cored_pieces(catalogue: Catalogue) -> None:
    for kind, part in (("layered", "layer_2"), ("cored", "core"), ("cored", "whole"), ("fizzer", "whole")):
        text = f'name = "Lantern"\nkind = "{kind}"\n' + LINE + f'part = "{part}"\n'
        assert read_text(text, catalogue).lines[0].part == part
    twice = 'name = "Lantern"\nkind = "cored"\n' + LINE + 'part = "core"\n' + LINE + 'part = "shell"\n'
    assert [line.part for line in read_text(twice, catalogue).lines] == ["core", "shell"]


def test_no_acid_no_base_and_no_liquid_are_for_the_review_to_mind(catalogue: Catalogue) -> None:
    assert read_text(HEAD + LINE, catalogue).lines
    assert read_text(HEAD + CITRIC, catalogue).lines


REFUSED = {
    "unknown top key": ("colour = 1\n" + HEAD + LINE, 1, "colour", ""),
    "near top key": ('audiance = "adult"\n' + HEAD + LINE, 1, "audiance", "audience"),
    "key of another table": ("count = 4\n" + HEAD + LINE, 1, "count", ""),
    "unknown makes key": (HEAD + '[makes]\nmold = "sphere_65"\n' + LINE, 4, "makes.mold", "mould"),
    "unknown tub key": (HEAD + "[tub]\nliters = 150\n" + LINE, 4, "tub.liters", "litres"),
    "unknown water key": (HEAD + "[tub.water]\nalkalinity_mmol_l=1\npH = 7\n" + LINE, 5, "tub.water.pH", ""),
    "unknown line key": (HEAD + LINE + 'lott = "x"\n', 6, "line.lott", "lot"),
    "no name": ('kind = "fizzer"\n' + LINE, 0, "name", ""),
    "no kind": ('name = "Drift"\n' + LINE, 0, "kind", ""),
    "no lines": (HEAD, 0, "line", ""),
    "empty lines": (HEAD + "line = []\n", 3, "line", ""),
    "line as a table": (HEAD + '[line]\nuse = "water"\namount = "1 g"\n', 3, "line", ""),
    "no use": (HEAD + '[[line]]\namount = "1 g"\n', 3, "line.use", ""),
    "no amount": (HEAD + '[[line]]\nuse = "water"\n', 3, "line.amount", ""),
    "unknown use": (HEAD + LINE.replace("bicarbonate", "bicarbonat"), 4, "line.use", "sodium_bicarbonate"),
    "use not text": (HEAD + LINE.replace('"sodium_bicarbonate"', "1"), 4, "line.use", ""),
    "kind": (HEAD.replace('"fizzer"', '"fizer"') + LINE, 2, "kind", "fizzer"),
    "kind true": (HEAD.replace('"fizzer"', "true") + LINE, 2, "kind", ""),
    "audience": ('audience = "child"\n' + HEAD + LINE, 1, "audience", "child_6_plus"),
    "measures": ('measures = "imperial"\n' + HEAD + LINE, 1, "measures", ""),
    "sold_in": ('sold_in = ["us", "usa"]\n' + HEAD + LINE, 1, "sold_in", "us"),
    "sold_in as text": ('sold_in = "us"\n' + HEAD + LINE, 1, "sold_in", ""),
    "date as text": ('made_on = "25.11.2026"\n' + HEAD + LINE, 1, "made_on", ""),
    "date that is none": ('made_on = "2026-02-30"\n' + HEAD + LINE, 1, "made_on", ""),
    "date and time": ("made_on = 2026-11-25T10:00:00\n" + HEAD + LINE, 1, "made_on", ""),
    "mould": (HEAD + '[makes]\nmould = "sphere_66"\n' + LINE, 4, "makes.mould", "sphere_65"),
    "mesh above": (HEAD + '[makes]\nmould = "mesh:../heart.stl"\n' + LINE, 4, "makes.mould", ""),
    "mesh at root": (HEAD + '[makes]\nmould = "mesh:/heart.stl"\n' + LINE, 4, "makes.mould", ""),
    "mesh on a drive": (HEAD + '[makes]\nmould = "mesh:C:heart.stl"\n' + LINE, 4, "makes.mould", ""),
    "mesh backslash": (HEAD + "[makes]\nmould = 'mesh:..\\heart.stl'\n" + LINE, 4, "makes.mould", ""),
    "mesh of another kind": (HEAD + '[makes]\nmould = "mesh:heart.obj"\n' + LINE, 4, "makes.mould", ""),
    "mould for a powder": ('name="D"\nkind="powder"\n[makes]\nmould = "sphere_65"\n' + LINE, 4, "makes.mould", ""),
    "count": (HEAD + "[makes]\ncount = 2.5\n" + LINE, 4, "makes.count", ""),
    "count true": (HEAD + "[makes]\ncount = true\n" + LINE, 4, "makes.count", ""),
    "count zero": (HEAD + "[makes]\ncount = 0\n" + LINE, 4, "makes.count", ""),
    "makes as a word": (HEAD + 'makes = "4 spheres"\n' + LINE, 3, "makes", ""),
    "litres true": (HEAD + "[tub]\nlitres = true\n" + LINE, 4, "tub.litres", ""),
    "litres nan": (HEAD + "[tub]\nlitres = nan\n" + LINE, 4, "tub.litres", ""),
    "litres inf": (HEAD + "[tub]\nlitres = inf\n" + LINE, 4, "tub.litres", ""),
    "litres huge": (HEAD + "[tub]\nlitres = 1e308\n" + LINE, 4, "tub.litres", ""),
    "litres text": (HEAD + '[tub]\nlitres = "150"\n' + LINE, 4, "tub.litres", ""),
    "temperature": (HEAD + "[tub]\ntemperature_c = 100\n" + LINE, 4, "tub.temperature_c", ""),
    "water word": (HEAD + '[tub]\nwater = "harrd"\n' + LINE, 4, "tub.water", "hard"),
    "water without alkalinity": (HEAD + "[tub.water]\nph = 7\n" + LINE, 3, "tub.water.alkalinity_mmol_l", ""),
    "water ph": (HEAD + "[tub.water]\nph = 17\nalkalinity_mmol_l = 1\n" + LINE, 4, "tub.water.ph", ""),
    "amount a number": (HEAD + LINE.replace('"1 cup"', "7.5"), 5, "line.amount", ""),
    "amount true": (HEAD + LINE.replace('"1 cup"', "true"), 5, "line.amount", ""),
    "amount nan": (HEAD + LINE.replace('"1 cup"', "nan"), 5, "line.amount", ""),
    "amount 1e308": (HEAD + LINE.replace('"1 cup"', "1e308"), 5, "line.amount", ""),
    "amount 1e308 in words": (HEAD + LINE.replace("1 cup", "1e308 g"), 5, "line.amount", ""),
    "amount negative": (HEAD + LINE.replace("1 cup", "-1 cup"), 5, "line.amount", ""),
    "amount zero": (HEAD + LINE.replace("1 cup", "0 g"), 5, "line.amount", ""),
    "unit": (HEAD + LINE.replace("1 cup", "1 cupp"), 5, "line.amount", "cup"),
    "drops of a powder": (HEAD + LINE.replace("1 cup", "9 drops"), 5, "line.amount", ""),
    "scent to consistency": (
        HEAD + LINE + '[[line]]\nuse = "lavender"\namount = "to consistency"\n',
        8,
        "line.amount",
        "",
    ),
    "twice": (HEAD + LINE + CITRIC + LINE, 10, "line.use", ""),
    "in nothing": (HEAD + LINE + CITRIC + 'in = "citric_acids"\n', 9, "line.in", ""),
    "in something near": (HEAD + LINE + CITRIC + 'in = "sodium_bicarb"\n', 9, "line.in", "sodium_bicarbonate"),
    "in itself": (HEAD + LINE + 'in = "sodium_bicarbonate"\n', 6, "line.in", ""),
    "in a number": (HEAD + LINE + "in = 1\n", 6, "line.in", ""),
    "part of a plain piece": (HEAD + LINE + 'part = "shell"\n', 6, "line.part", ""),
    "part of another kind": ('name="L"\nkind="layered"\n' + LINE + 'part = "shell"\n', 6, "line.part", ""),
    "lot as a number": (HEAD + LINE + "lot = 2411\n", 6, "line.lot", ""),
    "percent over 100": (
        HEAD + LINE.replace("1 cup", "60 %") + CITRIC.replace("100 g", "41 %"),
        6,
        "line",
        "",
    ),
    "percent leaves nothing": (HEAD + LINE.replace("1 cup", "100 %") + CITRIC, 3, "line", ""),
    "percent alone": (HEAD + LINE.replace("1 cup", "100 %"), 3, "line", ""),
    "percent short": (HEAD + LINE.replace("1 cup", "99 %"), 3, "line", ""),
    "nothing but a binder": (HEAD + '[[line]]\nuse = "water"\namount = "to consistency"\n', 3, "line", ""),
}


@pytest.mark.parametrize(("text", "row", "field", "nearest"), REFUSED.values(), ids=REFUSED)
def test_refuses(catalogue: Catalogue, text: str, row: int, field: str, nearest: str) -> None:
    (problem,) = problems(text, catalogue)
    assert (problem.row, problem.field) == (row, field)
    assert problem.allowed or "is missing" in problem.text
    if nearest:
        assert nearest in problem.nearest


def test_both_rows_of_a_repeated_line_are_named(catalogue: Catalogue) -> None:
    (problem,) = problems(HEAD + LINE + CITRIC + LINE, catalogue)
    assert "rows 3 and 9" in problem.text
    assert "Add the two up" in problem.text


def test_a_ring_of_dilutions_is_refused(catalogue: Catalogue) -> None:
    text = HEAD + LINE + 'in = "citric_acid"\n' + CITRIC + 'in = "sodium_bicarbonate"\n'
    assert [(p.row, p.field) for p in problems(text, catalogue)] == [(6, "line.in"), (10, "line.in")]


def test_a_dilution_in_another_part_is_refused(catalogue: Catalogue) -> None:
    text = (
        'name="L"\nkind="cored"\n' + LINE + 'part = "core"\n' + CITRIC + 'part = "shell"\nin = "sodium_bicarbonate"\n'
    )
    (problem,) = problems(text, catalogue)
    assert (problem.row, problem.field) == (11, "line.in")


def test_all_faults_come_at_once_in_order_of_rows(catalogue: Catalogue) -> None:
    text = 'name = ""\nkind = "fizzers"\nmade_on = 3\n[tub]\nlitres = -1\n' + LINE.replace("1 cup", "x") + LINE + LINE
    found = problems(text, catalogue)
    assert [(p.row, p.field) for p in found] == [
        (1, "name"),
        (2, "kind"),
        (3, "made_on"),
        (5, "tub.litres"),
        (8, "line.amount"),
        (13, "line.use"),
    ]
    assert [p.index for p in found] == [None, None, None, None, 0, 2]


@pytest.mark.parametrize(
    ("text", "row", "says"),
    [
        ("", 0, "empty"),
        (" \n\t\n", 0, "empty"),
        ("two cups of soda", 1, "key = value"),
        (HEAD + "name = 'again'\n", 3, "twice"),
        (HEAD + '[[line]]\nuse = "water\n', 4, "quote"),
        (HEAD + "made_on = today\n", 3, "double quotes"),
        ("a = 1\n\0", 2, "NUL"),
        ("a = " + "[\n" * 100_000, 0, "nested"),
        ("a = " + "9" * 1999, 1, "2003 characters long"),
        (".".join("a" * 200_000) + " = 1\n", 1, "characters long"),
        ("{}", 1, "TOML"),
    ],
)
def test_what_is_no_document_at_all(catalogue: Catalogue, text: str, row: int, says: str) -> None:
    (problem,) = problems(text, catalogue)
    assert problem.row == row
    assert says in problem.text


def test_files_that_cannot_be_read(catalogue: Catalogue, tmp_path: Path) -> None:
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * (MOST_BYTES * 10))
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b'kind = "fizzer"\nname = "Gr\xf6sse"\n')
    wide = tmp_path / "wide.toml"
    wide.write_text(ORCHARD, encoding="utf-16")
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    expected = {
        large: "1 MB",
        latin: "not UTF-8",
        wide: "UTF-16",
        pipe: "ordinary file",
        tmp_path: "folder",
        tmp_path / "no.toml": "no such file",
        tmp_path / "nul\0.toml": "NUL",
    }
    for file, says in expected.items():
        with pytest.raises(RecipeRefused, match=says):
            read_file(file, catalogue)
    with pytest.raises(RecipeRefused) as refused:
        read_file(latin, catalogue)
    assert refused.value.problems[0].row == 2


def test_a_flood_of_faults_is_cut_short(catalogue: Catalogue) -> None:
    found = problems("".join(f"k{n} = 1\n" for n in range(50_000)) + HEAD + LINE, catalogue)
    assert len(found) == 101
    assert any("more to put right" in problem.text for problem in found)


def test_a_whole_count_may_be_written_as_a_decimal(catalogue: Catalogue) -> None:
    count = read_text(HEAD + "[makes]\ncount = 4.0\n" + LINE, catalogue).makes.count
    assert (count, type(count)) == (4, int)


def test_a_refused_recipe_is_one_of_the_refusals_every_face_shows() -> None:
    assert issubclass(RecipeRefused, Refusal)


@given(documents(), st.integers(min_value=0, max_value=2000), st.text(max_size=3))
def test_a_damaged_document_is_read_or_refused_never_worse(text: str, place: int, damage: str) -> None:
    place %= len(text)
    try:
        read_text(text[:place] + damage + text[place + 2 :], CATALOGUE)
    except RecipeRefused as refused:
        assert str(refused)
