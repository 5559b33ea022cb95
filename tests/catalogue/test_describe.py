"""What is told of an entry: every value with its unit, how it is known, and where from."""

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.describe import Row, describe


def row(rows: list[Row], label: str) -> Row:
    return next(row for row in rows if row.label == label)


def test_a_material(catalogue: Catalogue) -> None:
    rows = describe(catalogue.materials["sodium_bicarbonate"], catalogue)
    assert row(rows, "Also called").value_text.startswith("baking soda")
    density = row(rows, "Spooned density")
    assert (density.value_text, density.unit, density.how) == ("0.93 (0.69 to 1.01)", "g/ml", "read")
    assert density.sources == ("BULK_LIST_B", "USDA_SR", "TDS_NAHCO3")
    assert row(rows, "CAS number").how == "memory"
    assert "Flash point" not in {r.label for r in rows}
    assert "Alcohol" not in {r.label for r in rows}


def test_an_oil_tells_its_constituents_limits_and_cautions(catalogue: Catalogue) -> None:
    rows = describe(catalogue.oils["ylang_ylang_complete"], catalogue)
    assert row(rows, "benzyl benzoate").value_text == "7.5 (4 to 12)"
    assert row(rows, "Limit, ifra, 9").value_text == "1.4"
    assert any(r.label.startswith("Caution, ") for r in rows)


def test_only_what_was_read_is_called_read(catalogue: Catalogue) -> None:
    rows = describe(catalogue.oils["lavender"], catalogue)
    assert row(rows, "Density at 20 °C").how == "read"
    assert row(rows, "Flash point").how == "memory"
    assert row(rows, "CAS number").how == "memory"


def test_every_entry_can_be_told_and_every_source_resolves(catalogue: Catalogue) -> None:
    entries = (
        *catalogue.materials.values(), *catalogue.oils.values(), *catalogue.constituents.values(),
        *catalogue.moulds.values(), *catalogue.measures.values(), *catalogue.facts.values(), *catalogue.limits,
        *catalogue.allergens, *catalogue.cautions, *catalogue.colours.values(),
        *catalogue.dyes.values(),
    )  # fmt: skip
    for entry in entries:
        rows = describe(entry, catalogue)
        assert len(rows) >= 2, entry.id
        for told in rows:
            assert told.value_text and told.label, (entry.id, told)
            assert set(told.sources) <= catalogue.sources.keys()
            assert told.how in ("", "read", "library", "memory", "estimate")


def test_a_mould_tells_its_inside(catalogue: Catalogue) -> None:
    rows = describe(catalogue.moulds["heart_65"], catalogue)
    assert row(rows, "Inside").value_text == "width 65, height 58, depth 28"
    assert row(rows, "Inside").how == "estimate"


def test_a_constituent_tells_what_it_smells_of_and_how_that_is_known(catalogue: Catalogue) -> None:
    told = row(describe(catalogue.constituents["l_menthol"], catalogue), "Smells of")
    assert (told.value_text, told.how) == ("mint", "memory")
    assert told.sources == ("JECFA_FLAVOURS",)
