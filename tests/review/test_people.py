"""Who should keep from a piece: by whom it is for, and by everyone else."""

from __future__ import annotations

import pytest

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.model import Tub
from fizzwright.review import people
from fizzwright.review.figures import Notice
from tests.review.skin_mixes import Given, mixed, on_skin, said

DRY: list[Given] = [
    ("sodium_bicarbonate", 200.0),
    ("citric_acid", 100.0),
    ("olive_oil", 20.0),
    ("polysorbate_80", 40.0),
]


def about(
    catalogue: Catalogue, words: str, lines: list[Given], audience: str = "adult", **more: object
) -> list[Notice]:
    section = on_skin(catalogue, mixed(catalogue, [*DRY, *lines], audience=audience, **more))
    return [n for n in section.notices if words in n.text]


@pytest.mark.parametrize(
    ("audience", "use", "stopped"),
    [
        # eu_annex_iii: methyl salicylate is barred from cosmetics for children under six; wintergreen is nearly all that.
        ("child_2_plus", "wintergreen", True),
        ("child_6_plus", "wintergreen", False),
        ("adult", "wintergreen", False),
        # sccs_1681_25: tea tree was looked at for adults only.
        ("child_6_plus", "tea_tree", True),
        ("adult", "tea_tree", False),
        # tisserand_young_2014, dosoky_setzer_2021: thujone carriers in pregnancy.
        ("pregnancy", "dalmatian_sage", True),
        ("adult", "dalmatian_sage", False),
        ("pregnancy", "sweet_orange", False),
        ("child_6_plus", "sweet_orange", False),
    ],
)
def test_those_it_is_made_for(catalogue: Catalogue, audience: str, use: str, stopped: bool) -> None:
    section = on_skin(catalogue, mixed(catalogue, [*DRY, (use, 0.02)], audience=audience))
    stops = [n for n in said(section, "stop") if n.line == use and n.text.startswith("Not for")]
    assert bool(stops) is stopped
    assert all(n.sources and "clinician" in n.reason for n in stops)


@pytest.mark.parametrize(
    ("use", "words"),
    [
        ("rosemary_camphor", "people with epilepsy"),
        ("wintergreen", "people on blood thinners"),
        ("peppermint", "people short of the enzyme G6PD"),
        ("peppermint", "children under 2"),
        ("tea_tree", "pets"),
    ],
)
def test_those_it_must_be_kept_from(catalogue: Catalogue, use: str, words: str) -> None:
    notices = about(catalogue, words, [(use, 0.1)])
    assert len(notices) == 1
    assert notices[0].level == "mind" and notices[0].text.startswith("Keep it from")
    assert catalogue.oils[use].name in notices[0].text
    assert ("vet" if words == "pets" else "clinician") in notices[0].reason


def test_remembered_reasons_are_marked(catalogue: Catalogue) -> None:
    (notice,) = about(catalogue, "G6PD", [("peppermint", 0.1)])
    assert "Mostly menthol (from memory, not checked)." in notice.reason


def test_nut_oils_are_told_without_any_scent(catalogue: Catalogue) -> None:
    (notice,) = about(catalogue, "nut allergy", [("sweet_almond_oil", 5.0)])
    assert notice.text.startswith("Keep it from people with a nut allergy") and "almond" in notice.text
    assert not about(catalogue, "nut allergy", [("jojoba_oil", 5.0)])


def test_handbook_maxima_are_a_yardstick_for_the_film(catalogue: Catalogue) -> None:
    # Handbook dermal maximum of clove bud: 0.5 % (tisserand_reprint). In a film of 20 g + scent: 0.09 g is under, 0.2 over.
    assert not about(catalogue, "handbook", [("clove_bud", 0.09)])
    (notice,) = about(catalogue, "handbook", [("clove_bud", 0.2)])
    assert notice.level == "mind" and "0.99 % against 0.5 %" in notice.text


def test_an_oil_in_two_parts_counts_once_and_in_full(catalogue: Catalogue) -> None:
    # 0.06 g in each half: neither alone passes clove bud's 0.5 % of a 20 g film, together they do.
    halves: list[Given] = [("clove_bud", 0.06, {"part": "layer_1"}), ("clove_bud", 0.06, {"part": "layer_2"})]
    (notice,) = about(catalogue, "handbook", halves)
    assert "0.6 % against 0.5 %" in notice.text
    twice: list[Given] = [("tea_tree", 0.01, {"part": "layer_1"}), ("tea_tree", 0.01, {"part": "layer_2"})]
    assert len(about(catalogue, "Not for children", twice, audience="child_6_plus")) == 1


def test_a_caution_without_a_figure_gives_the_dose(catalogue: Catalogue) -> None:
    (notice,) = about(catalogue, "Made for children from 6 years", [("peppermint", 0.1)], audience="child_6_plus")
    assert notice.level == "mind" and "One bath brings Peppermint" in notice.text and " mg." in notice.text


@pytest.mark.parametrize(
    ("audience", "warm", "level"),
    [
        ("adult", 42.0, None),
        ("adult", 43.0, "mind"),
        ("adult", 47.0, "stop"),
        ("child_2_plus", 38.0, None),
        ("child_2_plus", 39.0, "mind"),
        ("pregnancy", 39.0, "mind"),
    ],
)
def test_hot_water(catalogue: Catalogue, audience: str, warm: float, level: str | None) -> None:
    # Facts: adult baths up to 42 C (BS6700_FAQ), children's 38 C (RCN_AU), health premises at most 46 C (BS6700_FAQ).
    notices = about(catalogue, "is hot water", [], audience, tub=Tub(temperature_c=warm))
    assert [n.level for n in notices] == ([level] if level else [])


@pytest.mark.parametrize(("warm", "told"), [(41.0, 0), (41.5, 1), (42.0, 1), (43.0, 0)])
def test_from_41_degrees_a_bath_is_at_the_hot_end(catalogue: Catalogue, warm: float, told: int) -> None:
    # Adult baths are usually 40 to 42 C, 41 in the middle (BS6700_FAQ); above 42 the hotter notice takes over.
    assert len(about(catalogue, "hot end", [], "adult", tub=Tub(temperature_c=warm))) == told


def test_foam_warns_and_names_the_us_caution_only_there(catalogue: Catalogue) -> None:
    (home,) = about(catalogue, "urinary", [("sodium_cocoyl_isethionate", 10.0)])
    (sold,) = about(catalogue, "urinary", [("sodium_cocoyl_isethionate", 10.0)], sold_in=("us",))
    assert home.level == sold.level == "mind"
    assert "set caution" in sold.text and "set caution" not in home.text


def test_every_bather_is_told_of_the_slippery_tub(catalogue: Catalogue) -> None:
    (notice,) = about(catalogue, "With every piece", [])
    assert notice.level == "good" and "slippery" in notice.text and "baby bath" in notice.text


def test_cautions_for_every_oil_name_what_the_catalogue_holds(catalogue: Catalogue) -> None:
    assert people.FLOATING in {caution.subject for caution in catalogue.cautions if caution.every_oil}


def test_every_group_in_the_catalogue_is_spoken_for(catalogue: Catalogue) -> None:
    # Sun is told beside the film it is compared with, in review/sun.py.
    assert {caution.group for caution in catalogue.cautions} == {*people.GROUP_WORDS, "sun_exposure"}


@pytest.mark.parametrize("audience", list(people.BOUND))
def test_everything_scented_can_be_looked_at_for_everyone(catalogue: Catalogue, audience: str) -> None:
    for use in [*catalogue.oils, *catalogue.constituents]:
        section = on_skin(catalogue, mixed(catalogue, [*DRY, (use, 0.05)], audience=audience, sold_in=("uk", "ca")))
        assert all(n.text.strip() and n.reason.strip() for n in section.notices), use
        assert len({n.text for n in section.notices}) == len(section.notices), use
        assert {"in_product_pct", "film_pct"} <= {f.id for f in section.figures}, use


def test_children_of_all_ages_in_one_sentence(catalogue: Catalogue) -> None:
    (notice,) = about(catalogue, "children", [("cardamom", 0.05)])
    assert notice.text == (
        "Keep it from children under 2, because it is scented; take care with those under 10, because of Cardamom."
    )
    # Barred up to ten (tea tree), so no younger age need be named.
    (barred,) = about(catalogue, "children", [("tea_tree", 0.05)])
    assert barred.text == "Keep it from children under 10, because of Tea tree."


@pytest.mark.parametrize(
    ("use", "level", "words"),
    [
        ("coconut_oil", "good", "no reason to keep from it"),
        ("shea_butter", "mind", "should ask first about shea butter"),
    ],
)
def test_a_nut_note_is_plainly_relief_or_caution(catalogue: Catalogue, use: str, level: str, words: str) -> None:
    (notice,) = about(catalogue, "nut allergy", [(use, 5.0)])
    assert notice.level == level and words in notice.text and notice.standing


def test_every_short_word_stands_for_a_caution_that_is_held(catalogue: Catalogue) -> None:
    notes = {c.group for c in catalogue.cautions if c.every_oil and c.level == "note"}
    assert notes == people.ANY_SCENT.keys()
    assert people.RELIEF.keys() <= {c.subject for c in catalogue.cautions if c.group == "nut_allergy"}
