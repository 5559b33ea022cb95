"""The shipped tables: their form, by an outside validator; their rules, by our own checks; their size, pinned."""

import csv
import json
import subprocess
import sys
from collections import defaultdict
from dataclasses import fields
from pathlib import Path

import pytest

from fizzwright.catalogue import Catalogue, check_tables
from fizzwright.catalogue.holdings import DATA, MOULD_DIMS
from fizzwright.catalogue.model import (
    Allergen,
    Caution,
    ColourRule,
    Constituent,
    Dye,
    Entry,
    Fact,
    Limit,
    Material,
    Measure,
    Mould,
    OdourWords,
    Oil,
)

RECORDS: dict[str, type[Entry]] = {
    "materials": Material,
    "oils": Oil,
    "constituents": Constituent,
    "moulds": Mould,
    "measures": Measure,
    "facts": Fact,
    "limits": Limit,
    "allergens": Allergen,
    "cautions": Caution,
    "colour_rules": ColourRule,
    "dyes": Dye,
    "odour_words": OdourWords,
}
ROWS = {
    "sources": 417, "materials": 165, "oils": 74, "oil_constituents": 1453, "constituents": 329, "moulds": 35,
    "measures": 101, "facts": 176, "equilibria": 101, "limits": 211, "allergens": 81, "cautions": 241,
    "colour_rules": 93, "dyes": 44, "odour_words": 245, "label_rules": 233, "claims": 96, "records_rules": 74, "unreached": 205,
}  # fmt: skip


def rows_of(table: str) -> list[dict[str, str]]:
    with (DATA / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def column_sum(table: str, column: str) -> float:
    return sum(float(row[column]) for row in rows_of(table) if row[column])


def test_frictionless_finds_the_package_valid() -> None:
    # The outside check: the Data Package standard's own library, in a process of its own because it warns on import.
    script = (
        "import sys, warnings; warnings.simplefilter('ignore')\n"
        "from frictionless import validate\n"
        "report = validate(sys.argv[1])\n"
        "print(report.flatten(['name', 'rowNumber', 'fieldName', 'message']))\n"
        "sys.exit(0 if report.valid and report.stats['tasks'] == 19 else 1)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", script, str(DATA / "datapackage.json")], capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr


def test_frictionless_sees_a_broken_cell(tmp_path: Path) -> None:
    # So that the test above is known to be able to fail.
    for path in DATA.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    oils = (tmp_path / "oil_constituents.csv").read_text(encoding="utf-8")
    (tmp_path / "oil_constituents.csv").write_text(oils.replace("lavender,linalool", "lavendar,linalool", 1), "utf-8")
    script = (
        "import sys, warnings; warnings.simplefilter('ignore')\n"
        "from frictionless import validate\n"
        "sys.exit(0 if validate(sys.argv[1]).valid else 1)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path / "datapackage.json")], capture_output=True, check=False
    )
    assert run.returncode == 1


def test_our_own_checks_find_nothing() -> None:
    assert [str(fault) for fault in check_tables(DATA)] == []


@pytest.mark.parametrize(("table", "count"), ROWS.items())
def test_row_counts(table: str, count: int) -> None:
    assert len(rows_of(table)) == count


def test_every_table_is_in_the_package_and_every_file_is_a_table() -> None:
    package = json.loads((DATA / "datapackage.json").read_text(encoding="utf-8"))
    assert {resource["name"] for resource in package["resources"]} == set(ROWS)
    assert {path.name for path in DATA.iterdir()} == {f"{table}.csv" for table in ROWS} | {"datapackage.json"}


@pytest.mark.parametrize(("table", "record"), RECORDS.items())
def test_schema_header_and_record_agree(table: str, record: type[Entry]) -> None:
    package = json.loads((DATA / "datapackage.json").read_text(encoding="utf-8"))
    schema = next(r["schema"] for r in package["resources"] if r["name"] == table)
    header = list(rows_of(table)[0])
    assert [field["name"] for field in schema["fields"]] == header
    known = {field.name for field in fields(record)} | {"source", "how"}
    if record is Mould:
        known |= set(MOULD_DIMS)
    assert set(header) <= known


@pytest.mark.parametrize(
    ("table", "column", "total"),
    [
        ("oil_constituents", "min_pct", 4296.2641),
        ("oil_constituents", "typical_pct", 6879.94),
        ("oil_constituents", "max_pct", 10774.8001),
        ("limits", "limit_pct", 233.6865),
        ("materials", "molar_mass_g_mol", 14293.725),
        ("materials", "bulk_density_loose_g_ml_typ", 68.48),
        ("materials", "true_density_g_ml", 189.412),
        ("constituents", "molar_mass_g_mol", 47915.52),
        ("facts", "typical", 8356.12983),
        ("measures", "volume_ml", 16284.8473),
        ("allergens", "rinse_off_threshold_pct", 0.81),
        ("dyes", "e1pct_1cm", 20947.0),
        ("dyes", "peak_nm", 18354.0),
    ],
)
def test_column_sums_are_pinned(table: str, column: str, total: float) -> None:
    # A slip of a finger in any of these columns moves the sum; a meant change moves it too, and is pinned anew.
    assert column_sum(table, column) == pytest.approx(total, abs=5e-4)


def test_sources_resolve_by_one_list(catalogue: Catalogue) -> None:
    assert len({row["id"] for row in rows_of("sources")}) == ROWS["sources"]
    for table in ("label_rules", "claims", "records_rules", "equilibria", "colour_rules"):
        for row in rows_of(table):
            for piece in row["source"].split("|"):
                for item in piece.rpartition(":")[2].split(";"):
                    assert not item.strip() or item.strip().partition("/")[0] in catalogue.sources, (table, row)


def test_every_row_says_how_it_is_known() -> None:
    for table in ROWS.keys() - {"sources", "unreached", "constituents"}:
        for row in rows_of(table):
            assert row["how"], (table, row)
            assert row["source"], (table, row)
    for row in rows_of("constituents"):
        assert bool(row["molar_mass_g_mol"]) == bool(row["source"]), row


def test_what_is_read_is_never_from_memory_sources(catalogue: Catalogue) -> None:
    # A source that is nobody's text cannot have been read.
    nobody = {"GENERAL", "general_knowledge", "COMMON_PRACTICE"}
    for entries in (catalogue.materials, catalogue.oils, catalogue.moulds, catalogue.facts, catalogue.measures):
        for entry in entries.values():
            for column, way in entry.how.items():
                if way == "read":
                    assert not nobody >= set(entry.sources_of(column)), (entry.id, column)
    for oil in catalogue.oils.values():
        for part in oil.constituents:
            if part.how == "read":
                assert not nobody >= set(part.sources), (oil.id, part.constituent)
            if part.typical_how == "read":
                assert not nobody >= set(part.typical_sources), (oil.id, part.constituent)


def test_enough_is_held(catalogue: Catalogue) -> None:
    assert len(catalogue.materials) >= 60
    assert len(catalogue.oils) >= 50
    assert len(catalogue.constituents) >= 80
    assert sum(mould.shape != "weight" for mould in catalogue.moulds.values()) >= 24
    diameters = {m.dims_mm["diameter_mm"] for m in catalogue.moulds.values() if m.shape == "sphere"}
    assert {35.0, 90.0} <= diameters
    shapes = {mould.shape for mould in catalogue.moulds.values()}
    assert shapes >= {"sphere", "half_sphere", "cap", "ellipsoid", "heart", "cuboid", "cylinder", "torus", "weight"}


def test_typical_shares_sum_to_the_oil_or_the_rest_is_explained(catalogue: Catalogue) -> None:
    explained = {oil.id for oil in catalogue.oils.values() if oil.remainder}
    assert explained == {"vanilla_absolute", "vetiver"}
    for oil in catalogue.oils.values():
        total = sum(part.typical_pct or 0.0 for part in oil.constituents)
        assert 70.0 - 1e-9 <= total + (oil.remainder_pct or 0.0) <= 102.0, oil.id


def test_ids_that_recipes_name_are_unique_across_kinds(catalogue: Catalogue) -> None:
    kinds = defaultdict(set)
    for kind, entries in (("m", catalogue.materials), ("o", catalogue.oils), ("c", catalogue.constituents)):
        for entry_id in entries:
            kinds[entry_id].add(kind)
    assert [entry_id for entry_id, found in kinds.items() if len(found) > 1] == []
