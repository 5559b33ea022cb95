"""Names as laboratories write them, against the catalogue; CAS numbers against the registry's own check digit."""

from __future__ import annotations

import csv
from collections.abc import Mapping

import pytest
from chemicals import CAS_from_any

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.analysis.amounts import Share
from fizzwright.catalogue.analysis.naming import NAMES, Match, answered, match_peaks, questions
from fizzwright.catalogue.analysis.reading import Peak
from fizzwright.catalogue.analysis.spelling import is_cas, key, plain
from fizzwright.refusal import Refusal


def matched(catalogue: Catalogue, name: str, cas: str = "", oil: str = "") -> Match:
    peak = Peak(1, name, cas, "10", Share(10, 10, 10))
    return match_peaks([peak], catalogue, catalogue.oils.get(oil))[0]


@pytest.mark.parametrize(
    ("number", "holds"),
    [
        # CAS, "Check Digit Verification of CAS Registry Numbers": 107-07-3 is its worked example; water and caffeine are
        # its best-known numbers.
        ("107-07-3", True), ("7732-18-5", True), ("58-08-2", True), ("107-07-4", False), ("7732-18-4", False),
        ("7723-18-5", False), ("78-70-6", True), ("78-70", False), ("0-00-0", False), ("", False),
    ],
)  # fmt: skip
def test_the_check_digit_of_a_cas_number(number: str, holds: bool) -> None:
    assert is_cas(number) is holds


def test_a_name_too_long_for_one_is_passed_over(catalogue: Catalogue) -> None:
    found = matched(catalogue, "linalool " + "x" * 200)
    assert found.ids == () and "Too long" in found.remark
    assert matched(catalogue, "x" * 300, "78-70-6").ids == ("linalool",)


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("α-Pinene", "alpha_pinene"), ("a-pinene", "alpha_pinene"), ("alpha pinene", "alpha_pinene"),
        ("Pinene, alpha-", "alpha_pinene"), ("(1R)-(+)-α-Pinene", "alpha_pinene"), ("β-Pinène", "beta_pinene"),
        ("trans-β-Ocimene", "beta_ocimene_e"), ("(E)-β-ocimene", "beta_ocimene_e"), ("β-(E)-Ocimene", "beta_ocimene_e"),
        ("cis-Ocimene", "z_beta_ocimene"), ("(E)-Caryophyllene", "beta_caryophyllene"), ("Eucalyptol", "1_8_cineole"),
        ("1.8 Cineol", "1_8_cineole"), ("Acétate de linalyle", "linalyl_acetate"), ("Linalylacetat", "linalyl_acetate"),
        ("Acetato de linalilo", "linalyl_acetate"), ("Oxyde de caryophyllène", "caryophyllene_oxide"),
        ("Caryophyllenoxid", "caryophyllene_oxide"), ("α-Terpinen", "alpha_terpinene"), ("γ-terpinene*", "gamma_terpinene"),
        ("(R)-(-)-Linalool", "linalool"), ("Linalool (S)", "linalool"), ("D-Limonene", "d_limonene"),
        ("(R)-(+)-Limonene", "d_limonene"), ("(S)-(−)-limonene", "l_limonene"), ("(-)-Carvone", "l_carvone"),
        ("(S)-(+)-Carvone", "d_carvone"), ("δ-3-Carene", "3_carene"), ("Δ3-Carene", "3_carene"), ("d-cadinene", "delta_cadinene"),
        ("τ-Cadinol", "t_cadinol"), ("para-Cymene", "p_cymene"), ("n-Decanal", "decanal"), ("E-citral", "geranial"),
        ("trans,trans-α-Farnesene", "alpha_farnesene"), ("4-Terpineol", "terpinen_4_ol"), ("Germacrene-D", "germacrene_d"),
        ("t-anethole", "trans_anethole"), ("methyl chavicol", "estragole"), ("Neryl acetate³", "neryl_acetate"),
    ],
)  # fmt: skip
def test_a_name_is_found_however_it_is_spelt(catalogue: Catalogue, name: str, wanted: str) -> None:
    found = matched(catalogue, name)
    assert found.ids == (wanted,)
    assert found.how in ("name", "spelling")
    assert not found.question


@pytest.mark.parametrize(
    ("name", "cas", "oil", "wanted"),
    [
        ("Limonene", "", "sweet_orange", ("d_limonene",)), ("Limonene", "138-86-3", "spearmint", ("l_limonene",)),
        ("Limonene", "", "", ("limonene_unspecified",)), ("Carvone", "", "spearmint", ("l_carvone",)),
        ("Citral", "", "lemongrass", ("geranial", "neral")), ("", "5392-40-5", "lemongrass", ("geranial", "neral")),
        ("Thujone", "", "dalmatian_sage", ("alpha_thujone", "beta_thujone")),
        ("α-Thujone", "76231-76-0", "dalmatian_sage", ("alpha_thujone",)), ("Citral", "", "", ("citral",)),
    ],
)  # fmt: skip
def test_an_unspecific_name_is_read_as_what_the_species_holds(
    catalogue: Catalogue, name: str, cas: str, oil: str, wanted: tuple[str, ...]
) -> None:
    found = matched(catalogue, name, cas, oil)
    assert found.ids == wanted
    assert found.isomers is (len(wanted) > 1)
    assert not found.question


def test_the_number_goes_before_the_name_and_a_quarrel_is_asked_about(catalogue: Catalogue) -> None:
    assert matched(catalogue, "Peak 14", "78-70-6").ids == ("linalool",)
    quarrel = matched(catalogue, "Myrcene", "80-56-8")
    assert "the number is that of alpha-pinene, the name that of myrcene" in quarrel.question
    slip = matched(catalogue, "Linalool", "78-70-7")
    assert slip.ids == ("linalool",) and "check digit" in slip.remark and not slip.question


@pytest.mark.parametrize(
    "name", ["limonene + 1,8-cineole", "Limonene/1,8-Cineole", "1,8-cineole & limonene", "Limonene and eucalyptol"]
)
def test_a_merged_peak_is_told_and_asked_about(catalogue: Catalogue, name: str) -> None:
    found = matched(catalogue, name, oil="lavender")
    assert set(found.ids) == {"d_limonene", "1_8_cineole"}
    assert "nobody can part it" in found.question and not found.isomers


@pytest.mark.parametrize("name", ["(+)-limonene", "(+/-)-linalool", "(+)-α-pinene"])
def test_a_sign_of_rotation_is_no_merged_peak(catalogue: Catalogue, name: str) -> None:
    assert len(matched(catalogue, name).ids) == 1


@pytest.mark.parametrize(
    ("name", "proposed"),
    [
        ("Lavendulyl acetate", ("lavandulyl_acetate",)), ("Linalol oxide", ("linalool_oxide",)),
        # one letter apart, another substance: never proposed
        ("α-Terpinel", ()), ("epi-α-Bisabolol", ()), ("α-Muurolene", ()), ("1,9-cineole", ()), ("gamma-pinene", ()),
        ("Unknown", ()), ("m/z 204", ()), ("", ()), ("?", ()),
    ],
)  # fmt: skip
def test_what_is_only_nearly_a_name_is_never_taken_unasked(
    catalogue: Catalogue, name: str, proposed: tuple[str, ...]
) -> None:
    found = matched(catalogue, name)
    assert found.ids == proposed
    assert bool(found.question) >= bool(proposed)


def test_answers_settle_what_is_doubtful(catalogue: Catalogue) -> None:
    peaks = [
        Peak(1, "Lavendulyl acetate", "", "3", Share(3, 3, 3)),
        Peak(2, "limonene + 1,8-cineole", "", "1", Share(1, 1, 1)),
    ]
    matches = match_peaks(peaks, catalogue)
    assert len(questions(matches)) == 2
    told = answered(matches, {"LAVENDULYL ACETATE": "lavandulyl acetate", "limonene + 1,8-cineole": "none"}, catalogue)
    assert [match.ids for match in told] == [("lavandulyl_acetate",), ()] and not questions(told)
    assert not questions(answered(matches, {}, catalogue, accept_near=True))
    with pytest.raises(Refusal, match="no constituent of the catalogue"):
        answered(matches, {"Lavendulyl acetate": "linalol"}, catalogue)
    with pytest.raises(Refusal, match="no peak of this report is called that"):
        answered(matches, {"Nerol": "nerol"}, catalogue)


TWICE = {"z_rose_oxide", "rose_oxide_cis"}


def synonyms() -> list[Mapping[str, str]]:
    with NAMES.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def registered(name: str) -> str:
    """The CAS number the chemicals library knows a name by; nothing when it knows none."""
    try:
        return str(CAS_from_any(name))
    except ValueError:
        return ""


def test_other_names_agree_with_the_chemicals_library(catalogue: Catalogue) -> None:
    # Outside check: the identifiers the chemicals library bundles (PubChem and Common Chemistry names).
    numbers = {k.id: {k.cas, *k.cas_aliases} for k in catalogue.constituents.values()}
    generic: dict[str, set[str]] = {}
    for row in synonyms():
        generic.setdefault(row["also"], set()).update(numbers[row["constituent"]])
    known = {number for ids in numbers.values() for number in ids if number}
    for row in synonyms():
        number = registered(row["also"])
        if row["how"] == "library":
            assert number in numbers[row["constituent"]], row
        else:
            assert row["how"] == "memory" and row["source"] == "GENERAL"
            assert not number or number in generic[row["also"]] or number not in known, row
    assert sum(row["how"] == "library" for row in synonyms()) > 200


def test_other_names_are_unique_and_of_constituents_we_hold(catalogue: Catalogue) -> None:
    pairs = [(row["constituent"], row["also"]) for row in synonyms()]
    assert len(set(pairs)) == len(pairs)
    assert {constituent for constituent, _ in pairs} <= set(catalogue.constituents)
    assert all(row["source"] in catalogue.sources for row in synonyms())


def test_no_two_constituents_are_spelt_alike(catalogue: Catalogue) -> None:
    keys: dict[str, set[str]] = {}
    for constituent in catalogue.constituents.values():
        keys.setdefault(key(constituent.name), set()).add(constituent.id)
    # The catalogue holds cis-rose oxide twice: once from the oils' tables, once from a table of odours.
    assert [ids for ids in keys.values() if len(ids) > 1] == [TWICE]


def test_every_constituent_is_found_by_its_own_name_and_number(catalogue: Catalogue) -> None:
    for constituent in catalogue.constituents.values():
        by_name = matched(catalogue, constituent.name)
        assert constituent.id in by_name.ids or constituent.id in TWICE, constituent.id
        if constituent.cas:
            assert constituent.id in matched(catalogue, "", constituent.cas).ids, constituent.id


def test_plain_spelling() -> None:
    assert plain(" (E)‑β‑Ocimène* ") == "(e)-beta-ocimene"
