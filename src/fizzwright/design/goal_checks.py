"""Checking TOML values against the form of a goal: every fault is kept, none is raised on the way."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fizzwright.design import goal_form as form
from fizzwright.design.goal import COLOURLESS, MEASURED_IN, OPEN, RANGES, SEEKS, Goal, ScentWish, Window
from fizzwright.design.groups import GROUPS, members, name_of
from fizzwright.design.profiles import families as families_of
from fizzwright.recipe.checking import Checking, Said
from fizzwright.recipe.form import MOST_NAME
from fizzwright.recipe.model import AUDIENCES, SYSTEMS, Makes
from fizzwright.recipe.problems import shown
from fizzwright.recipe.statements import Path as Place
from fizzwright.recipe.values import nearest_words
from fizzwright.refusal import Refusal
from fizzwright.science.packing import HARDNESS_WORDS
from fizzwright.wording import CURRENCY_DIGITS, listed

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue
    from fizzwright.catalogue.workshop import Workshop

_MONEY = re.compile(r"(?P<number>\d+(?:\.\d*)?|\.\d+)\s*(?P<currency>[A-Z]{3})")
_MOST_DIGITS = 15
ENDS = ("at_least", "at_most")


def families(catalogue: Catalogue) -> tuple[str, ...]:
    """Every scent family an oil of the catalogue belongs to."""
    return tuple(sorted({word for oil in catalogue.oils.values() for word in families_of(oil)}))


class GoalReading(Checking):
    """One reading of one goal: collects what is wrong while building it."""

    def __init__(self, catalogue: Catalogue, file: Path | None, workshop: Workshop | None) -> None:
        super().__init__(form.GOAL, catalogue, file)
        self.workshop = workshop

    def goal(self, data: dict[str, Any], text: str, rows: Mapping[str, int]) -> Goal | None:
        """The goal of parsed TOML; None when anything is wrong."""
        self._keys(data, "", ())
        name = self._words(data, "name", ())
        kind = self._one_of(data, "kind", form.KINDS, "fizzer")
        makes = self._made(data, kind)
        feel = self._part(data, "feel")
        hardness = self._one_of(feel, "hardness_at_least", HARDNESS_WORDS, None, ("feel",))
        fizz, avoid, stock = self._part(data, "fizz"), self._part(data, "avoid"), self._part(data, "stock")
        cost_minor, currency = self._cost(self._part(data, "cost"))
        amounts = self._part(data, "amounts")
        limits = self._part(data, "limits")
        limit_share = self.number(limits, "share_at_most", "limits", ("limits",))
        measures = self._one_of(data, "measures", SYSTEMS, "us") or "us"
        goal = Goal(
            name=name or "",
            kind=kind or "fizzer",
            audience=self._one_of(data, "audience", AUDIENCES, "adult") or "adult",
            sold_in=self._markets(data),
            measures=measures,
            made_on=self._date(data),
            makes=makes,
            tub=self._tub(data),
            acid_to_base_eq=self._window(fizz, "fizz", "acid_to_base"),
            gas_l=self._window(fizz, "fizz", "gas_l"),
            ph_settled=self._window(self._part(data, "water"), "water", "ph_settled"),
            filler_pct=self._window(feel, "feel", "filler_pct"),
            oil_pct=self._window(feel, "feel", "oil_pct"),
            clay_pct=self._window(feel, "feel", "clay_pct"),
            foam_pct=self._window(feel, "feel", "foam_pct"),
            hardness_at_least=hardness,
            colour=self._colour(self._part(data, "colour")),
            scent=self._scent(self._part(data, "scent")),
            with_materials=self._names(self._part(data, "with"), "with", "materials", self._material),
            avoid_materials=self._names(avoid, "avoid", "materials", self._material),
            avoid_allergens=self._names(avoid, "avoid", "allergens", self._allergen),
            avoid_groups=self._names(avoid, "avoid", "groups", self._group),
            stock_only=self._flag(stock, "stock", "only"),
            stock_g=self._weights(stock, "stock", "grams", self._material, form.STOCK_G),
            cost_most_minor=cost_minor,
            cost_currency=currency,
            measured_in=self._one_of(amounts, "in", MEASURED_IN, "grams", ("amounts",)) or "grams",
            spoons=self._names(amounts, "amounts", "spoons", self._spoon(measures)),
            chance=self._chance(self._part(data, "kitchens")),
            limits_by=self._one_of(limits, "by", RANGES, "worst", ("limits",)) or "worst",
            limit_share=1.0 if limit_share is None else limit_share,
            seek=self._one_of(data, "seek", SEEKS, "nearest") or "nearest",
            file=self.file,
            text=text,
            rows=rows,
        )
        self._contradictions(goal)
        return None if self.found else goal

    def _part(self, data: dict[str, Any], key: str) -> dict[str, Any]:
        """A table of the goal with its keys checked; empty when it is missing or no table."""
        table = self._table(data, key, (), form.EXAMPLES[key]) or {}
        self._keys(table, key, (key,))
        return table

    def _made(self, data: dict[str, Any], kind: str | None) -> Makes:
        makes = self._makes(data, kind)
        table = data.get("makes")
        if isinstance(table, dict) and "mould" not in table and kind not in ("powder", None):
            said = "mould is missing, so nothing says how large a piece is."
            self._note(("makes", "mould"), f'{said} Write for example mould = "sphere_65"', "a mould id")
        return makes

    def _window(self, table: dict[str, Any], level: str, key: str) -> Window:
        """A pair [low, high] or a table with at_least, at_most or both."""
        value = table.get(key)
        if value is None:
            return OPEN
        bounds, place = form.WINDOWS[f"{level}.{key}"], (level, key)
        low, high = f"{bounds.low:g}", f"{bounds.high:g}"
        allowed = f"[low, high] or {{ at_least = ... }} or {{ at_most = ... }}, numbers from {low} to {high} {bounds.unit}".rstrip()
        ends: tuple[Any, Any]
        if isinstance(value, dict):
            for word in value:
                if word not in ENDS:
                    said = f'{key} knows at_least and at_most, and no "{shown(word)[1:-1]}".'
                    self._note(place, said, ", ".join(ENDS), Said(shown(word)[1:-1]), nearest_words(word, ENDS))
                    return OPEN
            if not value:
                self._note(place, f"{key} says neither at_least nor at_most. Say one, or remove {key}.", allowed, value)
            ends = (value.get("at_least"), value.get("at_most"))
        elif isinstance(value, list) and len(value) == 2:
            ends = (value[0], value[1])
        else:
            number = isinstance(value, int | float) and not isinstance(value, bool)
            hint = f" Write how far it may go to either side, or {{ at_most = {value:g} }}." if number else ""
            self._note(place, f"{key} must say from where to where.{hint}", allowed, value)
            return OPEN
        for end in ends:
            if end is None and isinstance(value, dict):
                continue
            if not isinstance(end, int | float) or isinstance(end, bool) or not math.isfinite(end):
                quoted = ' Write it without "quotes".' if isinstance(end, str) else ""
                self._note(place, f"{key} must hold plain numbers.{quoted}", allowed, end)
                return OPEN
            if not bounds.low <= end <= bounds.high:
                self._note(place, f"{key} is out of range.", allowed, end)
                return OPEN
        first, last = (None if end is None else float(end) for end in ends)
        if first is not None and last is not None and first > last:
            said = f"{key} ends below where it begins. Put the smaller number first."
            self._note(place, said, "low at most high", Said(f"{first:g} to {last:g}"))
            return OPEN
        return Window(first, last)

    def _names(
        self, table: dict[str, Any], level: str, key: str, known: Callable[[str, Place, str], str | None]
    ) -> tuple[str, ...]:
        """A list of names, each once; `known` gives the name as the catalogue writes it or notes what is wrong."""
        value = table.get(key)
        if value is None:
            return ()
        place: Place = (level, key)
        if not isinstance(value, list):
            self._note(
                place, f'{key} must be a list. Write for example {key} = ["...", "..."].', "a list of texts", value
            )
            return ()
        if len(value) > form.MOST_NAMES:
            self._note(place, f"{key} is too long.", f"at most {form.MOST_NAMES} names", Said(str(len(value))))
            return ()
        found: list[str] = []
        for word in value:
            if not isinstance(word, str):
                self._note(place, f'{key} must hold texts in "double quotes".', "a list of texts", word)
            elif (name := known(word, place, key)) is not None:
                found.append(name)
        return tuple(dict.fromkeys(found))

    def _weights(
        self,
        table: dict[str, Any],
        level: str,
        key: str,
        known: Callable[[str, Place, str], str | None],
        bounds: Any,
    ) -> dict[str, float]:
        """A table of names with a number each."""
        value = table.get(key)
        if value is None:
            return {}
        place: Place = (level, key)
        if not isinstance(value, dict) or len(value) > form.MOST_NAMES:
            self._note(place, f"{key} must be a table of names, each with a number: {{ name = 3 }}.", "a table", value)
            return {}
        found: dict[str, float] = {}
        for word, number in value.items():
            at = (*place, word)
            name = known(word, at, key)
            if not isinstance(number, int | float) or isinstance(number, bool) or not math.isfinite(number):
                hint = " Write the number alone, without a unit or quotes." if isinstance(number, str) else ""
                self._note(at, f"{shown(word)[1:-1]} must be a plain number.{hint}", bounds.allowed, number)
            elif not bounds.low <= number <= bounds.high:
                self._note(at, f"{shown(word)[1:-1]} is out of range.", bounds.allowed, number)
            elif name is not None and name in found:
                self._note(at, f"{name} stands twice. Keep one.", "each name once", Said(shown(word)[1:-1]))
            elif name is not None:
                found[name] = float(number)
        return found

    def _material(self, word: str, place: Place, key: str) -> str | None:
        if word in self.catalogue.materials or word in self.catalogue.oils:
            return word
        said = (
            "No material or oil of that id is in the catalogue. Choose an id, or add your own in the workshop folder."
        )
        if word in self.catalogue.constituents:
            said = "This is one substance of many oils, and none that is measured here. To keep it low, name it in avoid.allergens."
        self._note(place, said, "the id of a material or an oil", word, self._near(word, self._goes_in))
        return None

    def _goes_in(self, entry: str) -> bool:
        return entry in self.catalogue.materials or entry in self.catalogue.oils

    def _near(self, word: str, fits: Callable[[str], bool]) -> list[str]:
        near = self.catalogue.nearest(word[:MOST_NAME], among="usable", n=12)
        return [entry for entry in near if fits(entry)][:3]

    def _oil(self, word: str, place: Place, key: str) -> str | None:
        if word in self.catalogue.oils:
            return word
        near = self._near(word, self.catalogue.oils.__contains__)
        self._note(place, "No essential oil of that id is in the catalogue.", "the id of an oil", word, near)
        return None

    def _family(self, word: str, place: Place, key: str) -> str | None:
        known = families(self.catalogue)
        if word in known:
            return word
        near = [part for part in word.split("-") if part in known] or nearest_words(word, known)
        self._note(place, "No oil here belongs to a family of that name.", ", ".join(known), word, near)
        return None

    def _allergen(self, word: str, place: Place, key: str) -> str | None:
        names = {name.casefold(): a.label_name for a in self.catalogue.allergens for name in (a.id, a.label_name)}
        if word.strip().casefold() in names:
            return names[word.strip().casefold()]
        labels = [a.label_name for a in self.catalogue.allergens]
        near = nearest_words(word.strip().title(), labels) or nearest_words(word, labels)
        said = "No fragrance allergen has that label name."
        self._note(place, said, "a name as labels give it, such as Limonene or Linalool", word, near)
        return None

    def _group(self, word: str, place: Place, key: str) -> str | None:
        try:
            return name_of(word)
        except Refusal:
            known = tuple(GROUPS)
            self._note(place, "That group is not known here.", ", ".join(known), word, nearest_words(word, known))
            return None

    def _spoon(self, system: str) -> Callable[[str, Place, str], str | None]:
        def known(word: str, place: Place, key: str) -> str | None:
            from fizzwright.plan.drawer import ALLOWED, read_drawer

            try:
                read_drawer([word], system, self.catalogue, "spoons")
            except Refusal:
                self._note(place, "That is no cup or spoon that can be read.", ALLOWED, word)
                return None
            return word

        return known

    def _flag(self, table: dict[str, Any], level: str, key: str) -> bool:
        value = table.get(key, False)
        if not isinstance(value, bool):
            self._note((level, key), f"{key} is either true or false, without quotes.", "true, false", value)
        return value is True

    def _chance(self, table: dict[str, Any]) -> float | None:
        value = table.get("chance")
        if isinstance(value, int | float) and not isinstance(value, bool) and 1 < value < 100:
            hint = f"chance is a share of all kitchens, not percent. Write {value / 100:g} for {value:g} %."
            self._note(("kitchens", "chance"), hint, form.GOAL.numbers["kitchens.chance"].allowed, value)
            return None
        return self.number(table, "chance", "kitchens", ("kitchens",))

    def _colour(self, table: dict[str, Any]) -> str | None:
        use = table.get("use")
        if use is None or use == COLOURLESS:
            return use
        entry = self.catalogue.materials.get(use) if isinstance(use, str) else None
        if entry is not None and entry.function == "colourant":
            return entry.id
        near = self._near(use, self._is_colour) if isinstance(use, str) else []
        said = f"{entry.name} is no colour." if entry else "No colour of that id is in the catalogue."
        self._note(("colour", "use"), said, 'the id of a colour, or "none"', use, near)
        return None

    def _is_colour(self, entry: str) -> bool:
        return entry in self.catalogue.materials and self.catalogue.materials[entry].function == "colourant"

    def _scent(self, table: dict[str, Any]) -> ScentWish:
        most = self.number(table, "most_oils", "scent", ("scent",))
        return ScentWish(
            families=self._weights(table, "scent", "families", self._family, form.WEIGHT),
            oils=self._weights(table, "scent", "oils", self._oil, form.WEIGHT),
            total_pct=self._window(table, "scent", "total_pct"),
            most_oils=None if most is None else int(most),
        )

    def _cost(self, table: dict[str, Any]) -> tuple[int | None, str]:
        """Minor units and their currency."""
        value = table.get("piece_at_most")
        if value is None:
            return None, ""
        place: Place = ("cost", "piece_at_most")
        home = self.workshop.currency if self.workshop else "GBP"
        allowed = f'text with the currency\'s three letters, such as "0.60 {home}"'
        match = _MONEY.fullmatch(value.strip()) if isinstance(value, str) and len(value) <= MOST_NAME else None
        if match is None:
            said = "A cost is a number and the three letters of its currency, in quotes."
            if isinstance(value, int | float) or (isinstance(value, str) and re.fullmatch(r"\s*[\d.]+\s*", value)):
                said = "The number alone does not say of which money. Write its three letters too."
            elif isinstance(value, str) and value.strip().startswith("-"):
                said = "A piece cannot cost less than nothing."
            self._note(place, said, allowed, value)
            return None, ""
        currency, digits = match["currency"], CURRENCY_DIGITS.get(match["currency"], 2)
        minor = Decimal(match["number"]) * 10**digits
        if len(match["number"]) > _MOST_DIGITS or not 0 < minor <= form.DEAREST_MAJOR * 10**digits:
            self._note(
                place, "That is out of range for one piece.", f"above 0, up to {form.DEAREST_MAJOR} {currency}", value
            )
        elif minor != int(minor):
            self._note(place, f"{currency} has no smaller coin than that. Round it.", f"{digits} decimals", value)
        elif self.workshop and self.workshop.currency != currency:
            said = f"The prices of {self.workshop.name} are in {self.workshop.currency}, so the cost must be too."
            self._note(place, said, allowed, value)
        else:
            return int(minor), currency
        return None, ""

    def _contradictions(self, goal: Goal) -> None:
        """Demands no recipe can meet together, as the document alone can tell."""
        left_out = dict.fromkeys(goal.avoid_materials, "avoid.materials")
        for group in goal.avoid_groups:
            for entry, why in members(group, self.catalogue).items():
                left_out.setdefault(entry, f"avoid.groups as {group} ({why})")
        wanted: tuple[tuple[Place, Iterable[str]], ...] = (
            (("with", "materials"), goal.with_materials),
            (("scent", "oils"), goal.scent.oils),
            (("colour", "use"), [goal.colour] if goal.colour else []),
        )
        for place, entries in wanted:
            for entry in entries:
                if entry in left_out:
                    said = f"{entry} is asked for here and left out by {left_out[entry]}. Remove one of the two."
                    self._note(place, said, "what is not avoided", entry)
                elif goal.stock_only and goal.stock_g.get(entry) == 0:
                    said = f"{entry} is asked for here, yet only stock may be used and stock.grams says there is none."
                    self._note(place, said, "what is on hand", entry)
        self._scent_contradictions(goal.scent, goal.seek)
        shop = self.workshop
        if goal.stock_only and not goal.stock_g and shop and not any(price.on_hand_g for price in shop.prices):
            said = f"Only what is on hand may be used, and neither [stock.grams] nor {shop.name} says that anything is."
            self._note(("stock", "only"), f"{said} Weigh what you have.", "grams by id in [stock.grams]", Said("true"))
        colours = [entry for entry in goal.with_materials if self._is_colour(entry)]
        if goal.colour == COLOURLESS and colours:
            said = f"colour.use says none, yet with.materials asks for {listed(colours)}. Remove one of the two."
            self._note(("colour", "use"), said, "a colour, or no colour in with", COLOURLESS)
        if goal.kind == "powder" and goal.hardness_at_least:
            said = "A powder is not pressed, so it has no hardness. Remove hardness_at_least, or change kind."
            self._note(("feel", "hardness_at_least"), said, "no hardness", goal.hardness_at_least)
        if goal.kind == "foaming" and goal.foam_pct.high == 0:
            self._note(
                ("feel", "foam_pct"), "A foaming piece needs something that foams.", "more than 0 %", Said("at most 0")
            )
        if goal.measured_in == "grams" and goal.spoons:
            said = 'spoons names measures, yet the amounts are to be in grams. Write in = "spoons", or remove spoons.'
            self._note(("amounts", "spoons"), said, 'spoons beside in = "spoons"', Said(listed(goal.spoons)))
        # clay counts as filler too, so the larger of the two is what they need together
        least = {
            "scent.total_pct": goal.scent.total_pct.low or 0.0,
            "feel.oil_pct": goal.oil_pct.low or 0.0,
            "feel.foam_pct": goal.foam_pct.low or 0.0,
            "feel.filler_pct": goal.filler_pct.low or 0.0,
            "feel.clay_pct": goal.clay_pct.low or 0.0,
        }
        filling = max(least["feel.filler_pct"], least["feel.clay_pct"])
        needed = least["scent.total_pct"] + least["feel.oil_pct"] + least["feel.foam_pct"] + filling
        if needed > 100:
            parts = [f"{key} {low:g}" for key, low in least.items() if low > 0]
            key = next(key for key, low in least.items() if low > 0)
            said = f"The least of {listed(parts)} together exceeds the whole piece. Lower one of them."
            self._note(tuple(key.split(".")), said, "at most 100 % together", Said(f"{needed:g} %"))

    def _scent_contradictions(self, scent: ScentWish, seek: str) -> None:
        oils = self.catalogue.oils
        if scent.families and scent.oils:
            for oil in scent.oils:
                if not set(families_of(oils[oil])) & set(scent.families):
                    said = f"{oil} smells {oils[oil].odour_family}, which is none of the families asked for."
                    self._note(("scent", "oils", oil), f"{said} Ask for the family too, or drop the oil.", "", oil)
            for family in scent.families:
                if not any(family in families_of(oils[oil]) for oil in scent.oils):
                    said = f"None of the oils named smells {family}. Name one that does, or drop the family."
                    self._note(("scent", "families", family), said, self._smelling(family), Said(family))
        if scent.most_oils is not None and len(scent.oils) > scent.most_oils:
            said = f"{len(scent.oils)} oils are named, yet at most {scent.most_oils} may go in."
            self._note(("scent", "most_oils"), said, f"{len(scent.oils)} or more", scent.most_oils)
        if (scent.families or scent.oils) and scent.total_pct.high == 0:
            said = "A scent is asked for, yet total_pct leaves no room for any oil."
            self._note(("scent", "total_pct"), said, "more than 0 %", Said("at most 0"))
        if seek == "most_scent" and not scent.is_asked and not self.found:
            said = 'seek = "most_scent" needs to know of what: add [scent] with families or oils.'
            self._note(("seek",), said, "a scent, or another thing to seek", seek)

    def _smelling(self, family: str) -> str:
        some: Sequence[str] = [o.id for o in self.catalogue.oils.values() if family in families_of(o)]
        return f"oils such as {', '.join(some[:3])}"
