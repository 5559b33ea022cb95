"""The wish as typed, and the goal document it stands for: the page and the command have one way in."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import tomlkit
from tomlkit.items import Table

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.design.goal import Goal, Window
from fizzwright.recipe.problems import Problem
from fizzwright.web.forms import Faults, plain_name
from fizzwright.wording import listed, sentence

LONGEST_BOX = 4_000
WINDOWS = {
    "acid_to_base": (
        "fizz",
        "acid_to_base",
        "Acid for one of base",
        "",
        "1 leaves neither over; 0.9 leaves the water soft",
    ),
    "gas_l": ("fizz", "gas_l", "Gas in one piece", "litres", "a plain sphere of 65 mm frees about 14"),
    "ph_settled": (
        "water",
        "ph_settled",
        "pH of the bath",
        "",
        "such as 8.2 to 8.6; carbonate left over keeps it above 8",
    ),
    "filler_pct": ("feel", "filler_pct", "Starch and other fillers", "%", ""),
    "oil_pct": ("feel", "oil_pct", "Oils and butters", "%", ""),
    "clay_pct": ("feel", "clay_pct", "Clay", "%", ""),
    "foam_pct": ("feel", "foam_pct", "Foaming powder", "%", ""),
    "total_pct": ("scent", "total_pct", "Essential oil in the piece", "%", "such as 0.5 to 1.2"),
}
"""Box of each pair "from, to": table and key of the goal, label, unit, example."""
WEIGHTS = {"smell_1": 3, "smell_2": 2, "smell_3": 1}
"""What "mostly", "with some" and "a touch of" weigh against each other."""
LISTS = {"with": ("with", "materials"), "avoid": ("avoid", "materials"), "allergens": ("avoid", "allergens")}
TEXTS = ("name", "kind", "audience", "measures", "made_on", "mould", "count", "cost", "oils", "most_oils", "hardness",
         "colour", "stock", "drawer", "amounts", "chance", "limits_by", "limit_share", "seek", "litres",
         "temperature_c", "water")  # fmt: skip
MANY = ("sold_in", "groups")
BOXES = (*TEXTS, *WEIGHTS, *LISTS, *(f"{box}_{end}" for box in WINDOWS for end in ("low", "high")), "stock_only")
FIRST = {"kind": "fizzer", "audience": "adult", "mould": "sphere_65", "count": "6", "smell_1": "citrus",
         "seek": "nearest", "amounts": "grams", "limits_by": "worst", "measures": "us"}  # fmt: skip
"""What stands in the boxes when the page is opened."""
KIND_NAMES = {"fizzer": "fizzer", "foaming": "foaming fizzer", "powder": "powder"}
_OF_FIELD = {
    "makes": "mould", "makes.mould": "mould", "makes.count": "count", "cost": "cost", "cost.piece_at_most": "cost",
    "scent": "smell_1", "scent.families": "smell_1", "scent.oils": "oils", "scent.most_oils": "most_oils",
    "feel.hardness_at_least": "hardness", "colour": "colour", "colour.use": "colour", "with": "with",
    "with.materials": "with", "avoid": "avoid", "avoid.materials": "avoid", "avoid.allergens": "allergens",
    "avoid.groups": "groups", "stock": "stock", "stock.grams": "stock", "stock.only": "stock",
    "amounts": "amounts", "amounts.in": "amounts", "amounts.spoons": "drawer", "kitchens": "chance",
    "kitchens.chance": "chance", "limits": "limits_by", "limits.by": "limits_by", "limits.share_at_most": "limit_share", "tub.litres": "litres",
    "tub.temperature_c": "temperature_c", "tub.water": "water",
}  # fmt: skip
_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d+)?|[-+]?[.,]\d+")
_WEIGHED = re.compile(r"^(?P<name>.*?)[\s:=]*(?P<number>\d+(?:[.,]\d+)?)\s*(?:g|grams?|%|parts?)?$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class WishForm:
    """The boxes as typed."""

    typed: Mapping[str, str] = field(default_factory=dict)
    many: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def __getitem__(self, box: str) -> str:
        return self.typed.get(box, "")

    def ticked(self, box: str) -> tuple[str, ...]:
        """What was ticked of a group of boxes."""
        return self.many.get(box, ())

    def but(self, **boxes: str) -> WishForm:
        """The same with other words in some boxes."""
        return replace(self, typed={**self.typed, **boxes})

    def with_cost(self, minor: float, currency_digits: int) -> WishForm:
        """The same with a ceiling of so many minor units, rounded up to a whole one."""
        return self.but(cost=f"{math.ceil(minor - 1e-9) / 10**currency_digits:.{currency_digits}f}")

    def without(self, box: str, entry: str) -> WishForm:
        """The same with one name less in a list."""
        kept = [name for name in _split(self[box]) if plain_name(name) != plain_name(entry)]
        return self.but(**{box: ", ".join(kept)})

    def unticked(self, box: str, entry: str) -> WishForm:
        """The same with one tick less."""
        return replace(self, many={**self.many, box: tuple(v for v in self.ticked(box) if v != entry)})

    def at_point(self, along: str, asked: float, x: float, currency_digits: int) -> WishForm:
        """The same with the demand of a point of the trade-off put in, and along the cost what the point costs."""
        if along == "cost":
            return self.with_cost(x, currency_digits).but(gas_l_low=f"{asked:g}", seek="cheapest")
        return self.but(limit_share=f"{100 * asked:.4g}", total_pct_high="", seek="most_scent")


BLANK = WishForm(FIRST)


def of_post(data: Any) -> WishForm:
    """The form as a browser sent it."""
    typed = {box: str(data.get(box, ""))[:LONGEST_BOX].strip() for box in BOXES}
    return WishForm(typed, {box: tuple(str(v)[:60] for v in data.getlist(box)[:40]) for box in MANY})


def goal_text(form: WishForm, catalogue: Catalogue, workshop: Workshop, ids: Mapping[str, str]) -> tuple[str, Faults]:
    """The goal document a form stands for, and what of it is no number; boxes left empty ask for nothing.

    ids: the id for each name a maker may type, compared as `plain_name` says. A name it does not know is passed on as
    typed, so that the reader of goals answers with the nearest ones.
    """
    writer = _Writer(form, ids, {plain_name(a.label_name): a.label_name for a in catalogue.allergens})
    return writer.document(workshop.currency), writer.faults


@dataclass
class _Writer:
    form: WishForm
    ids: Mapping[str, str]
    allergens: Mapping[str, str]
    faults: Faults = field(default_factory=Faults)
    doc: tomlkit.TOMLDocument = field(default_factory=tomlkit.document)
    tables: dict[str, Table] = field(default_factory=dict)

    def document(self, currency: str) -> str:
        form = self.form
        self.doc["name"] = form["name"] or name_of(form)
        for key in ("kind", "audience"):
            if form[key]:
                self.doc[key] = form[key]
        if form.ticked("sold_in"):
            self.doc["sold_in"] = list(form.ticked("sold_in"))
        if form["measures"]:
            self.doc["measures"] = form["measures"]
        made_on = self._date("made_on") if form["made_on"] else None
        if made_on is not None:
            self.doc["made_on"] = made_on
        if form["seek"]:
            self.doc["seek"] = form["seek"]
        self._put("makes", "mould", form["mould"])
        self._put("makes", "count", self._number("count", whole=True))
        for key in ("litres", "temperature_c"):
            self._put("tub", key, self._number(key))
        self._put("tub", "water", form["water"])
        for box, (table, key, *_) in WINDOWS.items():
            self._put(table, key, self._window(box))
        self._put("feel", "hardness_at_least", form["hardness"])
        self._put("colour", "use", form["colour"])
        smells = {form[box]: weight for box, weight in reversed(WEIGHTS.items()) if form[box]}
        self._put("scent", "families", dict(reversed(smells.items())))
        self._put("scent", "oils", self._weighed("oils", 1.0))
        self._put("scent", "most_oils", self._number("most_oils", whole=True))
        for box, (table, key) in LISTS.items():
            self._put(table, key, self._names(box))
        self._put("avoid", "groups", list(form.ticked("groups")))
        if form["stock_only"]:
            self._put("stock", "only", True)
        self._put("stock", "grams", self._weighed("stock", None))
        cost = self._number("cost")
        if cost is not None:
            self._put("cost", "piece_at_most", f"{cost:g} {currency}")
        self._put("amounts", "in", form["amounts"])
        self._put("amounts", "spoons", _split(form["drawer"]))
        chance = self._number("chance")
        self._put("kitchens", "chance", chance / 100 if chance is not None else None)
        self._put("limits", "by", form["limits_by"])
        share = self._number("limit_share")
        self._put("limits", "share_at_most", share / 100 if share is not None else None)
        return tomlkit.dumps(self.doc)

    def _put(self, table: str, key: str, value: Any) -> None:
        """A key of a table, unless it holds nothing."""
        if value is None or value == "" or value == [] or value == {}:
            return
        if table not in self.tables:
            self.tables[table] = tomlkit.table()
            self.doc.add(table, self.tables[table])
        if isinstance(value, dict):
            inline = tomlkit.inline_table()
            inline.update(value)
            value = inline
        self.tables[table][key] = value

    def _number(self, box: str, *, whole: bool = False) -> float | int | None:
        """The number in a box: "12,5", "12.5 g" and "£0.60" are all read; None when it is empty."""
        text = self.form[box]
        if not text:
            return None
        found = _NUMBER.findall(text)
        if len(found) != 1:
            self.faults.add(box, f'Read: "{text[:60]}". Write one number, such as {"6" if whole else "0.5"}.')
            return None
        number = float(found[0].replace(",", "."))
        if whole and number != int(number):
            self.faults.add(box, f'Read: "{text[:60]}". Write a whole number, such as 6.')
            return None
        return int(number) if number == int(number) else number

    def _window(self, box: str) -> Any:
        low, high = self._number(f"{box}_low"), self._number(f"{box}_high")
        if low is not None and high is not None:
            return [low, high]
        ends = {"at_least": low, "at_most": high}
        return {key: value for key, value in ends.items() if value is not None}

    def _date(self, box: str) -> Any:
        try:
            return tomlkit.date(self.form[box])
        except ValueError:
            self.faults.add(box, f'Read: "{self.form[box][:60]}". Write the date like 2026-11-25.')
            return None

    def _names(self, box: str) -> list[str]:
        names = self.allergens if box == "allergens" else self.ids
        return [names.get(plain_name(name), name) for name in _split(self.form[box])]

    def _weighed(self, box: str, otherwise: float | None) -> dict[str, float]:
        """Names with a number each: "sweet orange 60, cedarwood 40"."""
        found: dict[str, float] = {}
        for text in _split(self.form[box]):
            known = self.ids.get(plain_name(text))
            match = None if known else _WEIGHED.match(text)
            if match is None and otherwise is None:
                self.faults.add(box, f'Read: "{text[:60]}". Write a name and its grams, such as citric acid 500 g.')
                continue
            name = known or (match["name"].strip() if match else text)
            number = float(match["number"].replace(",", ".")) if match else float(otherwise or 1)
            found[self.ids.get(plain_name(name), name)] = int(number) if number == int(number) else number
        return found


def _split(text: str) -> list[str]:
    """The names of a box: one a line, or with commas between; a comma inside a number is none."""
    return [part.strip() for part in re.split(r"[\n;]|,(?!\d)", text) if part.strip()]


def name_of(form: WishForm) -> str:
    """What a wish is called when its maker gave it no name: after its scent and kind."""
    smells = listed(form[box] for box in WEIGHTS if form[box])
    return sentence(f"{smells or 'plain'} {KIND_NAMES.get(form['kind'], 'piece')}")


def told(form: WishForm, currency: str) -> str:
    """A wish in a few words, to know it again among others."""
    cost = f", at most {form['cost']} {currency} a piece" if form["cost"] else ""
    return f"{form['count']} pieces{cost}"


def window_of(goal: Goal, box: str) -> Window:
    """What a goal asks of a pair of boxes."""
    if box == "total_pct":
        return goal.scent.total_pct
    windows = {
        "acid_to_base": goal.acid_to_base_eq,
        "gas_l": goal.gas_l,
        "ph_settled": goal.ph_settled,
        "filler_pct": goal.filler_pct,
        "oil_pct": goal.oil_pct,
        "clay_pct": goal.clay_pct,
        "foam_pct": goal.foam_pct,
    }
    return windows[box]


def faults_of(problems: Sequence[Problem]) -> Faults:
    """The problems of a goal document beside the boxes they come from."""
    faults = Faults()
    for problem in problems:
        box = box_of(problem.field)
        said = f"{problem.text}" + (f" Allowed: {problem.allowed}." if problem.allowed else "")
        said += f" Nearest: {', '.join(problem.nearest)}." if problem.nearest else ""
        faults.add(box, said)
    return faults


def box_of(field_name: str) -> str:
    """The box a key of the goal was typed in; "" when there is none."""
    for box, (table, key, *_) in WINDOWS.items():
        if field_name in (f"{table}.{key}", f"{table}.{box}"):
            return f"{box}_low"
    if field_name in BOXES or field_name in MANY:
        return field_name
    if field_name in _OF_FIELD:
        return _OF_FIELD[field_name]
    head, _, _ = field_name.rpartition(".")
    return box_of(head) if head else ""
