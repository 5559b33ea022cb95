"""Groups of materials to do without, against what the label notes and the names of the trade say by themselves."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fizzwright.catalogue import load
from fizzwright.catalogue.model import Material
from fizzwright.design import groups
from fizzwright.refusal import Refusal


def test_nuts_follow_the_food_law_lists() -> None:
    # EU 1169/2011 Annex II names almond and hazelnut among tree nuts; coconut stands in no list of it.
    found = groups.members("nuts", load())
    assert {"sweet_almond_oil", "hazelnut_oil"} <= set(found)
    assert "coconut_oil" not in found and "jojoba_oil" not in found
    assert "ask" in groups.to_ask("nuts", load())["coconut_oil"]


def test_what_is_of_an_animal_is_told_and_what_may_be_is_asked() -> None:
    # Beeswax and carmine have one origin only; glycerin is split from either kind of fat (common practice, no source).
    found, asked = groups.members("vegan", load()), groups.to_ask("animal", load())
    assert {"beeswax", "carmine", "honey_powder", "goat_milk_powder", "cow_milk_powder"} <= set(found)
    assert "glycerin" not in found and "supplier" in asked["glycerin"]
    assert not set(found) & {"coconut_milk_powder", "corn_starch", "fractionated_coconut_oil"}


def test_a_sulfate_is_a_foaming_agent_and_no_mineral() -> None:
    assert set(groups.members("sulfate", load())) == {"sodium_lauryl_sulfate", "sodium_coco_sulfate"}


def test_alcohol_is_what_evaporates_and_no_wax() -> None:
    found = groups.members("alcohol", load())
    assert {"isopropyl_alcohol_99", "ethanol_95", "witch_hazel"} <= set(found) and "cetyl_alcohol" not in found


def test_a_material_of_the_workshop_is_read_by_the_same_rules() -> None:
    book = load()
    ghee = Material(id="own_butter", name="own butter", label_note="milk", function="solid_fat")
    mine = replace(book, materials={**book.materials, ghee.id: ghee})
    assert ghee.id in groups.members("animal", mine) and ghee.id not in groups.members("animal", book)


@pytest.mark.parametrize("word", ["palm", "gluten", ""])
def test_a_group_nobody_can_tell_is_refused_with_those_that_can_be(word: str) -> None:
    with pytest.raises(Refusal, match="nuts, animal, sulfate, alcohol, citric_acid"):
        groups.name_of(word)
