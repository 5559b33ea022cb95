"""The form of a goal document: its keys in order, its words, and how far its numbers may go."""

from __future__ import annotations

from fizzwright.recipe import form as recipe_form
from fizzwright.recipe.form import Bounds, Form

KINDS = ("fizzer", "foaming", "powder")
"""What can be composed: pieces of one part. A layered or cored piece is put together from parts."""
WINDOWS: dict[str, Bounds] = {
    "fizz.acid_to_base": Bounds(0, 5, "acid equivalents for one of base"),
    "fizz.gas_l": Bounds(0, 100, "litres a piece"),
    "water.ph_settled": Bounds(4, 11, ""),
    "feel.filler_pct": Bounds(0, 100, "% of the cured piece"),
    "feel.oil_pct": Bounds(0, 100, "% of the cured piece"),
    "feel.clay_pct": Bounds(0, 100, "% of the cured piece"),
    "feel.foam_pct": Bounds(0, 100, "% of the cured piece"),
    "scent.total_pct": Bounds(0, 20, "% of the cured piece"),
}
"""Numbers said from ... to, by table and key."""
WEIGHT = Bounds(0.001, 1000, "")
STOCK_G = Bounds(0, 100_000, "g")
MOST_NAMES = 400
"""Ids in one list or table; a catalogue holds some hundreds."""
DEAREST_MAJOR = 100_000

GOAL = Form(
    what="goal",
    keys={
        "": (
            "name", "kind", "audience", "sold_in", "measures", "made_on", "seek", "makes", "tub", "fizz", "water", "feel",
            "colour", "scent", "with", "avoid", "stock", "cost", "amounts", "kitchens", "limits",
        ),
        "makes": recipe_form.KEYS["makes"],
        "tub": tuple(key for key in recipe_form.KEYS["tub"] if key != "fizzed_in_s"),
        "tub.water": recipe_form.KEYS["tub.water"],
        "fizz": ("acid_to_base", "gas_l"),
        "water": ("ph_settled",),
        "feel": ("filler_pct", "oil_pct", "clay_pct", "foam_pct", "hardness_at_least"),
        "colour": ("use",),
        "scent": ("families", "oils", "total_pct", "most_oils"),
        "with": ("materials",),
        "avoid": ("materials", "allergens", "groups"),
        "stock": ("only", "grams"),
        "cost": ("piece_at_most",),
        "amounts": ("in", "spoons"),
        "kitchens": ("chance",),
        "limits": ("by", "share_at_most"),
    },
    needed={"": ("name", "makes"), "makes": ("count",), "tub.water": recipe_form.NEEDED["tub.water"]},
    numbers={
        **{key: bounds for key, bounds in recipe_form.NUMBERS.items() if key != "tub.fizzed_in_s"},
        "scent.most_oils": Bounds(1, 40, "oils", whole=True),
        "kitchens.chance": Bounds(0.5, 0.9999, "as a share of kitchens"),
        "limits.share_at_most": Bounds(0.001, 1, "as a share of each limit"),
    },
    examples={
        **recipe_form.RECIPE.examples,
        "makes": '[makes] and below it mould = "sphere_65" and count = 4',
        "count": "count = 4",
    },
    start="a name and [makes] with a mould and a count",
)  # fmt: skip
EXAMPLES = {
    "tub": "[tub] and below it litres = 150",
    "fizz": "[fizz] and below it acid_to_base = [0.8, 1.0]",
    "water": "[water] and below it ph_settled = [6.8, 7.6]",
    "feel": "[feel] and below it filler_pct = [10, 20]",
    "colour": '[colour] and below it use = "none"',
    "scent": "[scent] and below it families = { citrus = 3, woody = 1 }",
    "with": '[with] and below it materials = ["kaolin"]',
    "avoid": '[avoid] and below it materials = ["talc"]',
    "stock": "[stock] and below it only = true",
    "cost": '[cost] and below it piece_at_most = "0.60 GBP"',
    "amounts": '[amounts] and below it in = "spoons"',
    "kitchens": "[kitchens] and below it chance = 0.99",
    "limits": '[limits] and below it by = "worst"',
}
"""How each table is written."""
