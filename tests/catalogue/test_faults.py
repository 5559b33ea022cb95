"""Every fault of every table is told at once: copies of the tables are spoilt in several places, and all are found."""

import csv
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import CatalogueFaults, check_tables
from fizzwright.catalogue.holdings import DATA, read_catalogue

# How to spoil a cell: table, column, what is written there, and the column the fault must name.
SPOILS = (
    ("materials.csv", "cas", "144-55-9", "cas"),
    ("materials.csv", "molar_mass_g_mol", "heavy", "molar_mass_g_mol"),
    ("materials.csv", "molar_mass_g_mol", "nan", "molar_mass_g_mol"),
    ("materials.csv", "true_density_g_ml", "0.05", "true_density_g_ml"),
    ("materials.csv", "flash_point_c", "1e308", "flash_point_c"),
    ("materials.csv", "function", "fizz", "function"),
    ("materials.csv", "volatile", "perhaps", "volatile"),
    ("materials.csv", "source", "nobody_knows", "source"),
    ("materials.csv", "how", "guessed", "how"),
    ("materials.csv", "source", "colour_of_it: GENERAL", "source"),
    ("materials.csv", "typical_use_pct_max", "140", "typical_use_pct_max"),
    ("oils.csv", "density_g_ml_20c_max", "0.1", "density_g_ml_20c_max"),
    ("oils.csv", "phototoxic", "maybe", "phototoxic"),
    ("oils.csv", "limit_substances", "unheard-of oil", "limit_substances"),
    ("oil_constituents.csv", "typical_pct", "99.5", "typical_pct"),
    ("oil_constituents.csv", "min_pct", "-1", "min_pct"),
    ("oil_constituents.csv", "constituent", "unobtainium", "constituent"),
    ("oil_constituents.csv", "relevance", "some", "relevance"),
    ("constituents.csv", "allergen_label_name", "Unheard", "allergen_label_name"),
    ("constituents.csv", "cas_aliases", "12-34-5", "cas_aliases"),
    ("dyes.csv", "peak_nm", "blue", "peak_nm"),
    ("odour_words.csv", "id", "unobtainium", "id"),
    ("odour_words.csv", "how", "guessed", "how"),
    ("dyes.csv", "e1pct_1cm", "99999", "e1pct_1cm"),
    ("dyes.csv", "shape", "lump", "shape"),
    ("dyes.csv", "kind", "paint", "kind"),
    ("moulds.csv", "shape", "blob", "shape"),
    ("moulds.csv", "diameter_mm", "wide", "diameter_mm"),
    ("limits.csv", "effective_from", "soon", "effective_from"),
    ("limits.csv", "limit_pct", "150", "limit_pct"),
    ("limits.csv", "jurisdictions", "moon", "jurisdictions"),
    ("allergens.csv", "cas", "1-2-3", "cas"),
    ("cautions.csv", "level", "dire", "level"),
    ("facts.csv", "max", "-5", ""),
)


def spoil(folder: Path, table: str, column: str, text: str, at: float) -> str:
    """Write `text` into one cell of a table; the row chosen by `at` (0 to 1). Returns a word of the row."""
    path = folder / table
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        rows, header = list(reader), list(reader.fieldnames or ())
    if table == "facts.csv":
        rows = sorted(rows, key=lambda row: not (row["typical"] and float(row["typical"]) > 0))
        row = rows[0]
    elif table == "moulds.csv" and column == "diameter_mm":
        row = next(row for row in rows if row["diameter_mm"])
    else:
        row = rows[min(int(at * len(rows)), len(rows) - 1)]
    row[column] = text
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, header, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return row.get("id") or row["oil_id"]


@given(
    st.lists(st.sampled_from(SPOILS), min_size=1, max_size=5, unique_by=lambda spoil: spoil[0]),
    st.floats(0.0, 1.0),
)
def test_all_spoilt_cells_are_named_at_once(spoils: list[tuple[str, str, str, str]], at: float) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for path in DATA.iterdir():
            shutil.copyfile(path, folder / path.name)
        spoilt = [(table, spoil(folder, table, column, text, at), named) for table, column, text, named in spoils]
        faults = check_tables(folder)
        for table, row, column in spoilt:
            assert any(
                fault.table == table and row in fault.row and (not column or fault.column == column) for fault in faults
            ), (table, row, column, [str(fault) for fault in faults])


def test_reading_refuses_with_everything_that_cannot_be_read(tmp_path: Path) -> None:
    for path in DATA.iterdir():
        shutil.copyfile(path, tmp_path / path.name)
    spoil(tmp_path, "materials.csv", "molar_mass_g_mol", "heavy", 0.1)
    spoil(tmp_path, "limits.csv", "effective_from", "soon", 0.2)
    spoil(tmp_path, "oil_constituents.csv", "max_pct", "lots", 0.3)
    with pytest.raises(CatalogueFaults) as refused:
        read_catalogue(tmp_path)
    assert {fault.table for fault in refused.value.faults} == {"materials.csv", "limits.csv", "oil_constituents.csv"}
    text = str(refused.value)
    assert text.startswith("3 faults in the tables:")
    assert "heavy" in text and "soon" in text and "lots" in text
    assert "a number such as 0.93" in text


def test_a_row_given_twice_is_a_fault(tmp_path: Path) -> None:
    for path in DATA.iterdir():
        shutil.copyfile(path, tmp_path / path.name)
    lines = (tmp_path / "measures.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "measures.csv").write_text("\n".join([*lines, lines[1]]) + "\n", encoding="utf-8")
    assert [(fault.table, fault.column, fault.read) for fault in check_tables(tmp_path)] == [
        ("measures.csv", "id", "us_tsp")
    ]


def test_a_row_cut_short_is_a_fault(tmp_path: Path) -> None:
    for path in DATA.iterdir():
        shutil.copyfile(path, tmp_path / path.name)
    with (tmp_path / "facts.csv").open("a", encoding="utf-8") as file:
        file.write("short,row\n")
    (fault,) = check_tables(tmp_path)
    assert fault.table == "facts.csv"
    assert fault.read == "2 cells"
    assert "10 cells are allowed" in fault.allowed
