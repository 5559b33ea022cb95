"""Keeping a lot: what is written reads back as it was compared, and nothing that is there is lost. Figures are invented."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import Catalogue, CatalogueFaults, Fault, open_workshop
from fizzwright.catalogue.analysis.reading import read_report
from fizzwright.catalogue.lots import read_lots
from fizzwright.plan.lots import Taken, keep, lot_csv, lot_path, take
from fizzwright.recipe.document import read_file
from fizzwright.refusal import Refusal
from fizzwright.review import review

TODAY = date(2026, 11, 25)
TABLE = "Lot: LV-2611-03\nCompound;CAS;%\nLinalool;78-70-6;33\nLinalyl acetate;;40\nNerol;;<0.2\nPeak 9;;3\n=1+1;;0.4\n"


def taken(catalogue: Catalogue, table: str = TABLE, oil: str = "lavender", lot: str = "") -> Taken:
    return take(read_report(table.encode(), "a.csv"), catalogue, oil=oil, lot=lot, accept_near=True)


def test_what_is_kept_reads_back(quillmoor: Path) -> None:
    catalogue, workshop = open_workshop(quillmoor)
    path = keep(taken(catalogue), catalogue, workshop, today=TODAY)
    opened, again = open_workshop(quillmoor)
    analysis = again.lot_analyses["LV-2611-03"]
    assert (analysis.oil, analysis.table) == ("lavender", f"lots/{path.name}")
    assert analysis.unnamed_pct == pytest.approx(3.4)
    shares = {s.constituent: (s.min_pct, s.typical_pct, s.max_pct) for s in analysis.shares}
    assert shares == {"linalool": (33, 33, 33), "linalyl acetate": (40, 40, 40), "nerol": (0, 0.1, 0.2)}
    assert "from the report a.csv" in opened.sources["lot LV-2611-03"].citation
    with path.open(encoding="utf-8", newline="") as file:
        written = [row["written"] for row in csv.DictReader(file)]
    assert "'=1+1" in written and not any(cell.startswith("=") for cell in written)


def test_the_review_tells_of_what_has_no_name_and_of_a_lot_of_another_oil(quillmoor: Path) -> None:
    catalogue, workshop = open_workshop(quillmoor)
    keep(
        taken(catalogue, TABLE.replace("LV-2611-03", "CW-2611-01"), "cedarwood_virginian"),
        catalogue,
        workshop,
        today=TODAY,
    )
    keep(taken(catalogue), catalogue, workshop, today=TODAY)
    text = (quillmoor / "recipes/orchard_rain.toml").read_text(encoding="utf-8")
    text = text.replace('use = "cardamom"', 'use = "lavender"\nlot = "LV-2611-03"')
    text = text.replace('use = "cedarwood_virginian"', 'use = "cypress"\nlot = "CW-2611-01"')
    recipe = quillmoor / "recipes/other.toml"
    recipe.write_text(text, encoding="utf-8")
    catalogue, workshop = open_workshop(quillmoor)
    report = review(read_file(recipe, catalogue), catalogue, workshop)
    told = {
        notice.line: notice.text for _, notice in report.notices if "ot " in notice.text and "-2611-" in notice.text
    }
    assert "3.4 % that has no name here" in told["lavender"]
    assert "held as a lot of cedarwood virginian" in told["cypress"] and "was not used" in told["cypress"]
    # the species range, not the lot of the other oil, was compared
    plain = text.replace('lot = "CW-2611-01"\n', "")
    recipe.write_text(plain, encoding="utf-8")
    other = review(read_file(recipe, catalogue), catalogue, workshop)
    limits = {f.id: (f.low, f.value, f.high) for f in report.section("skin").figures if f.id.startswith("limit.")}
    assert limits == {
        f.id: (f.low, f.value, f.high) for f in other.section("skin").figures if f.id.startswith("limit.")
    }


def test_nothing_that_is_there_is_lost(quillmoor: Path) -> None:
    catalogue, workshop = open_workshop(quillmoor)
    orange = quillmoor / "lots/SO-2411-02.csv"
    before = orange.read_bytes()
    for lot, replace in (("SO-2411-02", False), ("SO-2411_02", False)):
        table = TABLE.replace("LV-2611-03", lot)
        if lot == "SO-2411-02":
            with pytest.raises(Refusal, match="left alone"):
                keep(taken(catalogue, table), catalogue, workshop, today=TODAY, replace=replace)
        else:
            assert keep(taken(catalogue, table), catalogue, workshop, today=TODAY, replace=replace) != orange
    assert orange.read_bytes() == before


def test_a_file_with_several_lots_is_never_replaced(quillmoor: Path) -> None:
    both = "lot,oil_id,constituent,pct\nA-1,lavender,linalool,33\nA-2,lavender,linalool,34\n"
    (quillmoor / "lots/A-1.csv").write_text(both, encoding="utf-8")
    (quillmoor / "lots/mine.csv").write_text(both.replace("A-", "B-"), encoding="utf-8")
    catalogue, workshop = open_workshop(quillmoor)
    for lot, said in (("A-1", "holds lot A-2 too"), ("B-1", "stands in lots/mine.csv already")):
        with pytest.raises(Refusal, match=said):
            keep(taken(catalogue, lot=lot), catalogue, workshop, today=TODAY, replace=True)
    assert (quillmoor / "lots/A-1.csv").read_text(encoding="utf-8") == both


def test_what_could_not_be_read_back_is_not_written(quillmoor: Path) -> None:
    catalogue, workshop = open_workshop(quillmoor)
    traces = taken(catalogue, "Compound;%\nLinalool;tr\nLinalyl acetate;tr\nPeak 1;90\n", lot="LV-9")
    with pytest.raises(CatalogueFaults, match="fractions of one"):
        keep(traces, catalogue, workshop, today=TODAY)
    assert not lot_path(quillmoor, "LV-9").exists()
    open_workshop(quillmoor)


def test_nothing_is_kept_while_something_is_open(quillmoor: Path) -> None:
    catalogue, workshop = open_workshop(quillmoor)
    for open_still in (taken(catalogue, oil=""), taken(catalogue, TABLE.replace("Lot: LV-2611-03", "Report"))):
        with pytest.raises(Refusal, match="still to be confirmed"):
            keep(open_still, catalogue, workshop, today=TODAY)


@pytest.mark.parametrize("lot", ["a;b", "=1", "-x", "x" * 61, "a\nb", '"', "../x\\"])
def test_a_lot_code_that_could_harm_is_refused(catalogue: Catalogue, lot: str) -> None:
    with pytest.raises(Refusal, match="as on the bottle"):
        taken(catalogue, lot=lot)


@given(st.text(min_size=1, max_size=60))
def test_any_lot_code_stays_in_the_folder_of_lots(lot: str) -> None:
    path = lot_path(Path("/workshop"), lot)
    assert path.parent == Path("/workshop/lots") and path.suffix == ".csv"


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("L,lavender,linalool,33,34,35", "rising order"),
        ("L,lavender,linalool,33,x,35", "0 to 100"),
        ("L,lavender,linalool,33,1,101", "0 to 100"),
        ("L,nothing,,3,,", "an oil's id"),
    ],
)
def test_faults_in_the_wider_columns_are_told(tmp_path: Path, catalogue: Catalogue, rows: str, said: str) -> None:
    (tmp_path / "lots").mkdir()
    text = f"lot,oil_id,constituent,pct,min_pct,max_pct,written\n{rows},Peak\n"
    (tmp_path / "lots/l.csv").write_text(text, encoding="utf-8")
    faults: list[Fault] = []
    read_lots(catalogue, tmp_path, faults)
    assert said in "\n".join(map(str, faults))


def test_the_oil_is_guessed_from_the_words_or_the_profile_and_left_to_be_confirmed(catalogue: Catalogue) -> None:
    guessed = taken(catalogue, "Tea tree oil\n" + TABLE.replace("Lot: ", "Lot "), oil="")
    assert guessed.oil is not None and guessed.oil.id == "tea_tree" and guessed.oil_asked
    by_profile = taken(catalogue, oil="")
    assert by_profile.oil is not None and by_profile.oil_asked
    assert by_profile.oil.id == by_profile.likeness[0][0]


def test_a_lot_without_an_oil_has_no_file(catalogue: Catalogue) -> None:
    nothing = taken(catalogue, "Compound;%\nPeak 1;40\nPeak 2;40\n", oil="", lot="X-1")
    assert nothing.oil is None and not nothing.is_settled
    with pytest.raises(Refusal, match="which oil"):
        lot_csv(nothing, TODAY)
