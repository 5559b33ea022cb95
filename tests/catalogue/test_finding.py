"""Finding entries by any of their names, slips allowed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import Catalogue, load


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("sodium_bicarbonate", "sodium_bicarbonate"),
        ("sodium bicarb", "sodium_bicarbonate"),
        ("baking soda", "sodium_bicarbonate"),
        ("bakin soda", "sodium_bicarbonate"),
        ("Bicarbonate of Soda", "sodium_bicarbonate"),
        ("144-55-8", "sodium_bicarbonate"),
        ("cornflour", "corn_starch"),
        ("Zea Mays", "corn_starch"),
        ("SLSA", "sodium_lauryl_sulfoacetate"),
        ("lavander", "lavender"),
        ("Lavandula angustifolia", "lavender"),
        ("Citrus sinensis", "sweet_orange"),
        ("CITRUS SINENSIS (L.) OSBECK", "sweet_orange"),
        ("sweet ornage", "sweet_orange"),
        ("eucaliptus globulus", "eucalyptus_globulus"),
        ("tea tree", "tea_tree"),
        ("polysorbat 80", "polysorbate_80"),
        ("limonene", "d_limonene"),
        ("78-70-6", "linalool"),
        ("sphere 65", "sphere_65"),
        ("CI 42090", "fdc_blue_1"),
    ],
)
def test_the_first_hit(catalogue: Catalogue, query: str, found: str) -> None:
    hits = catalogue.search(query)
    assert hits and hits[0].entry.id == found, [(hit.entry.id, hit.score) for hit in hits[:5]]


def test_exact_names_score_100_and_hits_fall(catalogue: Catalogue) -> None:
    hits = catalogue.search("linalool")
    assert hits[0].score == 100.0
    assert [hit.score for hit in hits] == sorted((hit.score for hit in hits), reverse=True)
    assert {hit.kind for hit in hits} >= {"constituent", "limit", "allergen"}


def test_each_entry_once_and_no_more_than_asked(catalogue: Catalogue) -> None:
    hits = catalogue.search("oil", 7)
    assert len(hits) == 7
    assert len({id(hit.entry) for hit in hits}) == 7


@pytest.mark.parametrize("query", ["", "   ", "???", "xyzzyqq", "999999-99-9", "🫧", "\x00"])
def test_nothing_is_found_for_nothing(catalogue: Catalogue, query: str) -> None:
    assert catalogue.search(query) == []


@given(st.text(max_size=60))
def test_any_text_may_be_searched(query: str) -> None:
    for hit in load().search(query, 5):
        assert 0 < hit.score <= 100
        assert hit.matched


@given(st.data())
def test_a_name_with_one_letter_lost_is_still_found(data: st.DataObject) -> None:
    catalogue = load()
    entry = data.draw(st.sampled_from([*catalogue.oils.values(), *catalogue.materials.values()]))
    if len(entry.id) < 6:
        return
    place = data.draw(st.integers(1, len(entry.id) - 1))
    slipped = entry.id[:place] + entry.id[place + 1 :]
    assert entry.id in [hit.entry.id for hit in catalogue.search(slipped, 20)]


@pytest.mark.parametrize(
    ("wanted", "among", "expected"),
    [
        ("lavander", "usable", "lavender"),
        ("SLSA", "usable", "sodium_lauryl_sulfoacetate"),
        ("baking soda", "usable", "sodium_bicarbonate"),
        ("cornflour", "usable", "corn_starch"),
        ("bergamot", "usable", "bergamot_fcf"),
        ("65mm sphere", "mould", "sphere_65"),
        ("citric acid", "usable", "citric_acid"),
        ("sphere65", "mould", "sphere_65"),
        ("us_cupp", "measure", "us_cup"),
        ("tub_fill", "fact", "tub_na_fill"),
        ("linalol", "constituent", "linalool"),
    ],
)
def test_nearest(catalogue: Catalogue, wanted: str, among: str, expected: str) -> None:
    near = catalogue.nearest(wanted, among, 3)
    assert expected in near
    assert len(near) == 3


def test_an_unknown_fact_names_the_nearest(catalogue: Catalogue) -> None:
    with pytest.raises(KeyError, match="tub_na_fill"):
        catalogue.fact("tub_na_full")


def test_constituents_are_found_by_name_whatever_the_case(catalogue: Catalogue) -> None:
    for oil in catalogue.oils.values():
        for part in oil.constituents:
            held = catalogue.constituent_named(part.constituent.upper())
            assert held is not None and held.name == part.constituent
    assert catalogue.constituent_named("no such thing") is None


def test_usable_looks_in_all_three_tables(catalogue: Catalogue) -> None:
    for use in ("kaolin", "lavender", "vanillin"):
        found = catalogue.usable(use)
        assert found is not None and found.id == use
    assert catalogue.usable("sphere_65") is None
