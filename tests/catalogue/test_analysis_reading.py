"""Tables as laboratories send them: codes, separators, headers, cells, and what is refused. Figures are invented."""

from __future__ import annotations

import io
import time
import zipfile
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from fizzwright.catalogue.analysis.amounts import read_share, share_text
from fizzwright.catalogue.analysis.reading import Report, read_report
from fizzwright.refusal import Refusal

ROWS = [
    ["Breakwater Laboratory", "", ""],
    ["Lot no.: LV-2608-01", "", ""],
    ["No", "Composé", "Aire %"],
    ["1", "Limonène", "30,5"],
    ["2", "1,8-Cineole", "40,0 %"],
    ["3", "Acétate de linalyle", "tr"],
    ["", "Total", "70,5"],
]


def text_of(rows: Sequence[Sequence[str]], separator: str) -> str:
    def cell(written: str) -> str:
        return f'"{written}"' if separator in written else written

    return "\r\n".join(separator.join(cell(c) for c in row) for row in rows)


def workbook(rows: Sequence[Sequence[object]], title: str = "Results", formats: dict[str, str] | None = None) -> bytes:
    book = Workbook()
    first = book.active
    assert first is not None
    first.title = "Cover"
    first.append(["Breakwater Laboratory"])
    sheet = book.create_sheet(title)
    for row in rows:
        sheet.append(list(row))
    for place, form in (formats or {}).items():
        sheet[place].number_format = form
    saved = io.BytesIO()
    book.save(saved)
    return saved.getvalue()


def pairs(report: Report) -> list[tuple[str, float]]:
    return [(peak.name, peak.share.pct) for peak in report.peaks]


def test_a_total_is_known_by_its_word_in_whatever_column() -> None:
    rows = [*ROWS[:-1], ["Total", "", "70,5"]]
    report = read_report(text_of(rows, ";").encode(), "t.csv")
    assert pairs(report) == WANTED
    assert report.stated_total_pct == 70.5


WANTED = [("Limonène", 30.5), ("1,8-Cineole", 40.0), ("Acétate de linalyle", 0.05)]


@pytest.mark.parametrize("code", ["utf-8", "utf-8-sig", "cp1252", "latin-1", "utf-16", "utf-16-le"])
@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_any_code_and_separator_gives_the_same_peaks(code: str, separator: str) -> None:
    report = read_report(text_of(ROWS, separator).encode(code), "a.csv")
    assert pairs(report) == WANTED
    assert report.lot == "LV-2608-01"
    assert report.stated_total_pct == 70.5
    assert [(column.header, column.role) for column in report.columns] == [
        ("No", "other"), ("Composé", "name"), ("Aire %", "pct"),
    ]  # fmt: skip


def test_a_workbook_gives_the_sheet_that_holds_a_table() -> None:
    rows: list[list[object]] = [
        *ROWS[:3],
        [1, "Limonène", 30.5],
        [2, "1,8-Cineole", 0.4],
        [3, "Acétate de linalyle", "tr"],
    ]
    report = read_report(workbook(rows, formats={"C5": "0.00%"}), "a.xlsx")
    assert pairs(report) == WANTED
    assert report.form == "XLSX, sheet Results"


def test_a_table_parted_by_wide_gaps_only() -> None:
    report = read_report(b"Compound      Area %\nLinalool      33.1\nalpha pinene    0.4\n", "a.txt")
    assert pairs(report) == [("Linalool", 33.1), ("alpha pinene", 0.4)]


def test_a_comma_in_a_name_is_mended_where_the_headers_show_how() -> None:
    raw = b"Peak,Compound,CAS,Area %\n1,1,8-Cineole,470-82-6,40.5\n2,Linalool,78-70-6,30\n"
    assert pairs(read_report(raw, "a.csv")) == [("1,8-Cineole", 40.5), ("Linalool", 30.0)]


def test_two_tables_side_by_side_are_read_one_after_the_other() -> None:
    raw = b"Compound;Area %;Compound;Area %\nLinalool;33;Camphor;0.4\nLimonene;1;;\n"
    assert [name for name, _ in pairs(read_report(raw, "a.csv"))] == ["Linalool", "Camphor", "Limonene"]


def test_headers_over_two_rows() -> None:
    raw = b"Compound;Peak;Relative\nname;no;content %\nLinalool;1;33\nCamphor;2;40\n"
    assert pairs(read_report(raw, "a.csv")) == [("Linalool", 33.0), ("Camphor", 40.0)]


@pytest.mark.parametrize(
    ("headers", "taken"),
    [
        ("Compound;RI;ISO min %;ISO max %;Area %", 4),
        ("Verbindung;Treffer;Match %;Gehalt %;Fläche", 3),
        ("Component;Area;Area %;Similarity %;RT", 2),
        ("Nombre;CAS;Contenido (%);Area;x", 2),
        ("Name;Peak area %;Content (% w/w);LOQ %;x", 2),
        ("Constituent;RSD %;Height %;Percentage;x", 3),
    ],
)
def test_the_percent_column_is_told_from_its_neighbours(headers: str, taken: int) -> None:
    first, second = ["11", "12", "13", "14"], ["21", "22", "23", "24"]
    raw = f"{headers}\nLinalool;{';'.join(first)}\nCamphor;{';'.join(second)}\n".encode()
    report = read_report(raw, "a.csv")
    assert [peak.written for peak in report.peaks] == [first[taken - 1], second[taken - 1]]


def test_the_maker_may_say_which_column_it_is() -> None:
    raw = b"Compound;DB-5 %;DB-Wax %\nLinalool;33;34\nCamphor;40;41\n"
    assert "Not taken: “DB-Wax %”" in read_report(raw, "a.csv").notes[0]
    for said in ("DB-Wax %", "C", "db wax %"):
        assert pairs(read_report(raw, "a.csv", {"pct": said}))[0] == ("Linalool", 34.0)
    with pytest.raises(Refusal, match="no row of headers holds the columns you named"):
        read_report(raw, "a.csv", {"pct": "DB-1"})


def test_parts_in_a_million_become_percent() -> None:
    report = read_report(b"Compound;Concentration\n;mg/kg\nLinalool;331000\nCamphor;400000\nNerol;<500\n", "a.csv")
    assert [peak.share.pct for peak in report.peaks] == pytest.approx([33.1, 40.0, 0.025])
    assert any("turned into percent" in note for note in report.notes)


def test_totals_classes_footnotes_and_repeated_headers_are_passed_over_and_told() -> None:
    raw = (
        "Compound;Area %\nLinalool;33\nCompound;Area %\nMonoterpene hydrocarbons;20\nCamphor;40\nOxygenated sesquiterpenes;3\n"
        "Total identified;73\nSum;73\ntr: trace, below 0.05 %;\nNot quantified here;\n"
    )
    report = read_report(raw.encode(), "a.csv")
    assert [name for name, _ in pairs(report)] == ["Linalool", "Camphor"]
    assert [passed.why for passed in report.passed] == [
        "the headers once more", "a total of a class", "a total of a class", "a total", "a total", "it gives no percent",
        "it gives no percent",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("cell", "least", "likely", "most"),
    [
        ("33.1", 33.1, 33.1, 33.1), ("33,1", 33.1, 33.1, 33.1), ("33.1 %", 33.1, 33.1, 33.1), ("33.1%", 33.1, 33.1, 33.1),
        ("33,1*", 33.1, 33.1, 33.1), ("33.1²", 33.1, 33.1, 33.1), ("0.8 ± 0.2", 0.6, 0.8, 1.0), (",5", 0.5, 0.5, 0.5),
        ("0.3 (a)", 0.3, 0.3, 0.3), ("tr", 0, 0.05, 0.1), ("tr.", 0, 0.05, 0.1), ("Traces", 0, 0.05, 0.1),
        ("Spuren", 0, 0.05, 0.1), ("<0.1", 0, 0.05, 0.1), ("< 0,02 %", 0, 0.01, 0.02), ("≤0.1", 0, 0.05, 0.1),
        ("n.d.", 0, 0, 0.05), ("Not detected", 0, 0, 0.05), ("n.n.", 0, 0, 0.05), ("0", 0, 0, 0),
    ],
)  # fmt: skip
def test_cells_as_laboratories_write_them(cell: str, least: float, likely: float, most: float) -> None:
    share = read_share(cell)
    assert share is not None
    assert (share.least, share.pct, share.most) == pytest.approx((least, likely, most))
    again = read_share(share_text(share))
    assert again is not None
    assert (again.least, again.pct, again.most) == pytest.approx((least, likely, most))


@pytest.mark.parametrize("cell", ["much", "1.234.5", "20-45", "3 4", "1e5x", "ca. 3", "--3", "∞", "nan"])
def test_other_cells_are_not_guessed_at(cell: str) -> None:
    assert read_share(cell) is None
    for row, before in ((2, ""), (3, "Linalool;33\n")):
        with pytest.raises(Refusal, match=rf"a\.csv: row {row}, Camphor"):
            read_report(f"Compound;Area %\n{before}Camphor;{cell}\n".encode(), "a.csv")


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", "the file is empty"),
        (b"\x00\x00\x00", "the file is empty"),
        (b"\xef\xbb\xbf \r\n", "the file is empty"),
        (b"%PDF-1.7 ...", "a PDF"),
        (b"\xd0\xcf\x11\xe0" + b"\x01" * 600, "the old kind"),
        (b"<html><table><tr>", "a web page"),
        (b"\x01\x02\x03,\x04\n", "no table of text holds"),
        (b"Linalool\nCamphor\n", "only one column"),
        (b"Compound;CAS;RI\nLinalool;78-70-6;1101\n", "no row with a percent column"),
        (b"Area %;RI\n33;1101\n", "no row with a column of names"),
        (b"Compound;Area %\nLinalool;-3\n", "row 2, Linalool: read '-3'"),
        ("Compound;Area %\nLinalool;−3\n".encode(), "Less than nothing"),
        (b"Compound;Area %\nLinalool;123456\n", "more than 100 %"),
        (b"Compound;Area %\nLinalool;70\nCamphor;60\n", "add up to 130 %"),
        (b"Compound;Area %\nLinalool;0.33\nCamphor;0.64\n", "fractions of one"),
        (b"Compound;Area %\n;\n", "no row with a name and a percent"),
        (b"Compound,Area %\nLinalool,33,1\nCamphor,40\n", "row 2 has 3 cells where the headers name 2"),
        (b'Compound;Area %\n"Linalool;33\n' * 3, "a double quote opens"),
        (b"a;" * 150 + b"\n", "more than 40 cells"),
        (b"a;" + b"b" * 3000, "more than 2000 characters"),
    ],
)
def test_what_is_no_analysis_is_refused_with_the_reason(raw: bytes, said: str) -> None:
    with pytest.raises(Refusal) as refused:
        read_report(raw, "a.csv")
    assert said in str(refused.value)


def test_a_little_over_a_hundred_is_rounding() -> None:
    assert read_report(b"Compound;%\nLinalool;62\nCamphor;42.9\n", "a.csv").total_pct == pytest.approx(104.9)


def test_a_million_rows_are_refused_at_once() -> None:
    table = b"Compound,%\n" + b"x,0\n" * 1_000_000
    sheet = b"<worksheet><sheetData>" + b"<row><c><v>1</v></c></row>" * 1_000_000 + b"</sheetData></worksheet>"
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("xl/workbook.xml", "<workbook/>")
        book.writestr("xl/worksheets/sheet1.xml", sheet)
    for raw, said in ((table, "more than 2000 rows"), (packed.getvalue(), "unpacks to more than 20 MB")):
        begun = time.process_time()
        with pytest.raises(Refusal, match=said):
            read_report(raw, "a.csv")
        assert time.process_time() - begun < 2.0


def test_a_workbook_of_many_rows_stops_at_the_bound() -> None:
    rows = [["Compound", "%"], *(["x", 0] for _ in range(6000))]
    with pytest.raises(Refusal, match="more than 2000 rows"):
        read_report(workbook(rows), "a.xlsx")


def test_a_workbook_of_many_full_sheets_stops_at_the_same_bound() -> None:
    book = Workbook()
    for _ in range(3):
        sheet = book.create_sheet()
        for row in (("Compound", "%"), *(("x", 0) for _ in range(900))):
            sheet.append(row)
    raw = io.BytesIO()
    book.save(raw)
    with pytest.raises(Refusal, match="more than 2000 rows"):
        read_report(raw.getvalue(), "a.xlsx")


def test_a_workbook_that_claims_to_be_smaller_than_it_is_is_refused() -> None:
    raw = workbook([["Compound", "%"], ["Linalool", 33]])
    part = raw.index(b"xl/worksheets/sheet2.xml", raw.index(b"PK\x01\x02"))
    # central directory, 46 bytes before the name: the unpacked size stands 24 bytes in
    broken = raw[: part - 22] + (10).to_bytes(4, "little") + raw[part - 18 :]
    with pytest.raises(Refusal, match="cannot be read"):
        read_report(broken, "a.xlsx")


def test_the_plain_table_of_a_report_reads_as_the_same_report() -> None:
    first = read_report(text_of(ROWS, ";").encode(), "a.csv")
    again = read_report(first.as_csv().encode(), "a.csv")
    assert [(p.name, p.cas, p.share) for p in again.peaks] == [(p.name, p.cas, p.share) for p in first.peaks]
    assert (again.lot, again.stated_total_pct) == (first.lot, first.stated_total_pct)


def refused_or_read(raw: bytes) -> None:
    try:
        report = read_report(raw, "a.csv")
    except Refusal as refusal:
        assert str(refusal).startswith("a.csv")
    else:
        assert report.peaks and report.total_pct <= 105


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(raw: bytes) -> None:
    refused_or_read(raw)


@given(st.binary(max_size=200), st.sampled_from([b"PK\x03\x04", b"\xff\xfe", b"Compound;Area %\n", b"Name,CAS,%\n"]))
def test_any_bytes_after_a_promising_start_are_read_or_refused(raw: bytes, start: bytes) -> None:
    refused_or_read(start + raw)


@given(st.lists(st.lists(st.text(max_size=12), min_size=1, max_size=4), max_size=8))
def test_any_cells_under_a_header_are_read_or_refused(rows: list[list[str]]) -> None:
    table = text_of([["Compound", "CAS", "Area %"], *rows], ";")
    refused_or_read(table.encode("utf-8", "surrogatepass"))


@given(st.integers(0, 10**6), st.binary(min_size=1, max_size=6))
def test_a_damaged_workbook_is_read_or_refused(place: int, junk: bytes) -> None:
    raw = SMALL_BOOK
    place %= len(raw)
    refused_or_read(raw[:place] + junk + raw[place + len(junk) :])


SMALL_BOOK = workbook([["Compound", "CAS", "Area %"], ["Linalool", "78-70-6", 33.1], ["Camphor", "76-22-2", 40]])
