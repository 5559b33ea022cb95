"""The recipe as a form: filled from a document, read back from a post, and written into the document again.

Whatever was typed is kept as typed; whether it can be used is for the recipe room's reader to say.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from starlette.datastructures import FormData

from fizzwright.recipe.document import parse
from fizzwright.recipe.form import KEYS
from fizzwright.recipe.problems import Problem
from fizzwright.recipe.tap import mmol_l
from fizzwright.recipe.tidy import add_line, remove_line, set_value

PLACES: dict[str, tuple[str, ...]] = {
    "name": ("name",),
    "kind": ("kind",),
    "audience": ("audience",),
    "measures": ("measures",),
    "made_on": ("made_on",),
    "mould": ("makes", "mould"),
    "count": ("makes", "count"),
    "litres": ("tub", "litres"),
    "temperature_c": ("tub", "temperature_c"),
    "pieces": ("tub", "pieces"),
    "powder_g": ("tub", "powder_g"),
    "room_m3": ("tub", "room_m3"),
    "door": ("tub", "door"),
    "fan": ("tub", "fan"),
    "fizzed_in_s": ("tub", "fizzed_in_s"),
}
"""Where the box of each name stands in the document; `water`, `sold_in` and the lines have their own rules."""
TAP = {f"tap_{key}": key for key in KEYS["tub.water"]}
"""The boxes of the maker's own water report, by the key of [tub] water each fills."""
NUMBERS = ("count", "litres", "temperature_c", "pieces", "powder_g", "room_m3", "fizzed_in_s")
LINE_KEYS = {"use": "use", "amount": "amount", "part": "part", "diluted_in": "in", "lot": "lot"}
OWN_WATER = "own"
_NUMBER = re.compile(r"[-+]?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)")
_OWN_UNITS = {
    "count": ("piece", "pieces"),
    "litres": ("l", "litre", "litres", "liter", "liters"),
    "temperature_c": ("c", "°c", "° c", "°"),
    "pieces": ("piece", "pieces"),
    "powder_g": ("g", "gram", "grams"),
    "room_m3": ("m3", "m³"),
    "fizzed_in_s": ("s", "second", "seconds"),
}
"""The units that may be written after the number in each box."""
_KEY_LABELS = {
    "temperature_c": "Warmth",
    "litres": "Bath water",
    "powder_g": "Powder a bath",
    "pieces": "Pieces a bath",
    "count": "How many",
    "made_on": "Rules as of",
    "sold_in": "Sold in",
    "measures": "Cups and spoons",
    "audience": "For",
    "kind": "Kind",
    "name": "Name",
    "mould": "Mould",
    "water": "Tap water",
    "room_m3": "Bathroom",
    "door": "Door",
    "fan": "Fan",
    "fizzed_in_s": "Timed test",
    "alkalinity_mmol_l": "Alkalinity",
    "calcium_mmol_l": "Calcium",
    "magnesium_mmol_l": "Magnesium",
    "ph": "pH",
    "sodium_mmol_l": "Sodium",
    "potassium_mmol_l": "Potassium",
    "chloride_mmol_l": "Chloride",
    "sulfate_mmol_l": "Sulfate",
    "lot": "Lot",
    "part": "Part",
    "in": "Diluted in",
}
"""What a message calls a key, by the key it begins with: the words that stand over the box."""
_TAP_EXAMPLES = {"alkalinity_mmol_l": "120 mg/l CaCO3", "ph": "7.6", "calcium_mmol_l": "80 mg/l or 14 °dH"}
MOST_LINES = 200


class NoForm(Exception):
    """The document has a shape no form can show; it can still be put right as plain text."""


@dataclass(frozen=True, slots=True)
class LineForm:
    """One line of the recipe as typed."""

    use: str = ""
    amount: str = ""
    part: str = ""
    diluted_in: str = ""
    lot: str = ""
    was: int | None = None
    """Its place in the document the page was opened on; None for a line added since."""
    out: bool = False
    """Taken out by the maker, who may still put it back."""

    @property
    def is_blank(self) -> bool:
        """True for a new line nobody has written in."""
        return self.was is None and not (self.use or self.amount or self.part or self.diluted_in or self.lot)

    @property
    def is_half_typed(self) -> bool:
        """True for a new line that says what or how much, and not yet the other."""
        return self.was is None and not self.is_blank and not (self.use and self.amount)


@dataclass(frozen=True, slots=True)
class RecipeForm:
    """The whole form as typed, with the document it was opened on."""

    values: Mapping[str, str]
    """Text of each box, by its name in PLACES and `water`."""
    sold_in: tuple[str, ...]
    lines: tuple[LineForm, ...]
    loaded: str
    """The document the page was opened on."""
    seen: str
    """Its fingerprint."""
    good: str = ""
    """The last document that could be worked out."""
    leave_on: bool = False
    at: int | None = None
    """The line being typed in at this moment."""

    def text_of(self, name: str) -> str:
        """What stands in a box."""
        return self.values.get(name, "")

    def with_new_line(self) -> RecipeForm:
        """The form with one more empty line."""
        return self if len(self.lines) >= MOST_LINES else replace(self, lines=(*self.lines, LineForm()))

    def without_line(self, index: int) -> RecipeForm:
        """The form as if one line were not there, for figures while it is still being typed."""
        return self.with_out(index, True)

    def with_out(self, index: int, out: bool) -> RecipeForm:
        """The form with one line taken out or put back."""
        lines = tuple(replace(line, out=out) if i == index else line for i, line in enumerate(self.lines))
        return replace(self, lines=lines)


@dataclass(frozen=True, slots=True)
class Written:
    """A form written into its document."""

    text: str
    order: tuple[int, ...]
    """For each line of the document, its place in the form."""


@dataclass(slots=True)
class Faults:
    """What is wrong, by box; `""` holds what belongs to no box."""

    by_box: dict[str, list[str]] = field(default_factory=dict)

    def add(self, box: str, text: str) -> None:
        """One more sentence beside a box."""
        self.by_box.setdefault(box, []).append(text)

    def at(self, box: str) -> str:
        """What stands beside a box."""
        return " ".join(self.by_box.get(box, []))

    def __bool__(self) -> bool:
        return bool(self.by_box)


def of_document(text: str, seen: str) -> RecipeForm:
    """The form of a document; RecipeRefused when it is no TOML, NoForm when no form can hold it."""
    data, text = parse(text)
    tables: dict[str, Any] = {key: data.get(key, {}) for key in ("makes", "tub")}
    lines: Any = data.get("line", [])
    if not all(isinstance(t, dict) for t in tables.values()) or not isinstance(lines, list):
        raise NoForm
    if not all(isinstance(line, dict) for line in lines) or len(lines) > MOST_LINES:
        raise NoForm
    values = {}
    for name, place in PLACES.items():
        table: Any = data if len(place) == 1 else tables[place[0]]
        values[name] = _typed(table.get(place[-1]))
    water = tables["tub"].get("water")
    own = isinstance(water, dict)
    values["water"] = OWN_WATER if own else _typed(water)
    values |= {box: _typed(water.get(key)) if isinstance(water, dict) else "" for box, key in TAP.items()}
    sold: Any = data.get("sold_in", [])
    return RecipeForm(
        values=values,
        sold_in=tuple(_typed(s) for s in sold) if isinstance(sold, list) else (_typed(sold),),
        lines=tuple(_line_of(index, line) for index, line in enumerate(lines)),
        loaded=text,
        seen=seen,
        good=text,
    )


def _line_of(index: int, line: Mapping[str, Any]) -> LineForm:
    use, amount, part, diluted_in, lot = (_typed(line.get(key)) for key in LINE_KEYS.values())
    return LineForm(use, amount, part, diluted_in, lot, was=index)


def _typed(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:g}"
    return str(value).lower() if isinstance(value, bool) else str(value)


def whole_number(posted: str) -> int | None:
    """A whole number of up to six digits as a page posts it; None for anything else."""
    return int(posted) if posted.isdecimal() and len(posted) <= 6 else None


def of_post(data: FormData) -> RecipeForm:
    """The form as posted; whatever is missing is empty."""
    text = {key: value for key, value in data.items() if isinstance(value, str)}
    count = min(whole_number(text.get("lines", "")) or 0, MOST_LINES)
    return RecipeForm(
        values={name: text.get(name, "").strip() for name in (*PLACES, "water", *TAP)},
        sold_in=tuple(str(v) for v in data.getlist("sold_in")),
        lines=tuple(_posted_line(text, index) for index in range(count)),
        loaded=text.get("loaded", "").replace("\r\n", "\n"),
        seen=text.get("seen", ""),
        good=text.get("good", "").replace("\r\n", "\n"),
        leave_on="leave_on" in text,
        at=whole_number(text.get("at", "")),
    )


def _posted_line(text: Mapping[str, str], index: int) -> LineForm:
    def box(name: str) -> str:
        return text.get(f"line-{index}-{name}", "").strip()

    return LineForm(
        use=box("use"),
        amount=box("amount"),
        part=box("part"),
        diluted_in=box("diluted_in"),
        lot=box("lot"),
        was=whole_number(box("was")),
        out=box("out") == "1",
    )


def written(form: RecipeForm, base: str, ids: Mapping[str, str]) -> Written:
    """The document `base` with what was typed in the form; comments and untouched keys stay as they are.

    `ids` turns a name a maker typed into the catalogue's id. RecipeRefused when the base is no TOML.
    """
    before = of_document(base, form.seen)
    text = base
    for name, place in PLACES.items():
        if form.text_of(name) != before.text_of(name):
            text = set_value(text, place, _value(name, form.text_of(name)))
    text = _with_water(form, before, text)
    if set(form.sold_in) != set(before.sold_in):
        text = set_value(text, ("sold_in",), list(form.sold_in))
    text, order = _with_lines(form, before, text, ids)
    return Written(text, order)


def _with_water(form: RecipeForm, before: RecipeForm, text: str) -> str:
    """The document with the water as chosen; a report typed while nothing is chosen counts as chosen."""
    chosen = form.text_of("water") or (OWN_WATER if any(form.text_of(box) for box in TAP) else "")
    if chosen != OWN_WATER:
        return text if chosen == before.text_of("water") else set_value(text, ("tub", "water"), chosen or None)
    if before.text_of("water") != OWN_WATER:
        text = set_value(text, ("tub", "water"), None)
    for box, key in TAP.items():
        typed = form.text_of(box)
        if typed != before.text_of(box):
            value = (_number(typed) if key == "ph" else mmol_l(key, typed)) if typed else None
            text = set_value(text, ("tub", "water", key), value)
    return text


def _number(typed: str) -> float | str:
    """A bare number, or the text itself for the reader to refuse."""
    return float(typed.replace(",", ".")) if _NUMBER.fullmatch(typed) else typed


def _with_lines(form: RecipeForm, before: RecipeForm, text: str, ids: Mapping[str, str]) -> tuple[str, tuple[int, ...]]:
    kept = {line.was: index for index, line in enumerate(form.lines) if line.was is not None and not line.out}
    for was, index in kept.items():
        if was is None or was >= len(before.lines):
            continue
        for box, key in LINE_KEYS.items():
            typed, stood = getattr(form.lines[index], box), getattr(before.lines[was], box)
            if typed != stood:
                needed = box in ("use", "amount")
                text = set_value(text, ("line", was, key), _named(box, typed, ids) or ("" if needed else None))
    for was in reversed(range(len(before.lines))):
        if was not in kept:
            text = remove_line(text, was)
    order = [kept[was] for was in range(len(before.lines)) if was in kept]
    for index, line in enumerate(form.lines):
        if line.was is None and not line.out and not line.is_blank:
            text = add_line(
                text,
                _named("use", line.use, ids),
                line.amount,
                part=line.part or None,
                diluted_in=_named("diluted_in", line.diluted_in, ids) or None,
                lot=line.lot or None,
            )
            order.append(index)
    return text, tuple(order)


def _named(box: str, typed: str, ids: Mapping[str, str]) -> str:
    return ids.get(plain_name(typed), typed) if box in ("use", "diluted_in") else typed


def plain_name(typed: str) -> str:
    """A name as it is compared: letter case and runs of spaces do not count, and an id may be written with spaces."""
    return " ".join(typed.replace("_", " ").split()).casefold()


def _value(name: str, typed: str) -> str | int | float | date | None:
    """What was typed as the document's kind of value; text that is no number stays text, for the reader to refuse."""
    if not typed:
        return "" if name in ("name", "kind") else None
    if name == "made_on":
        try:
            return date.fromisoformat(typed)
        except ValueError:
            return typed
    if name not in NUMBERS:
        return typed
    match = _NUMBER.match(typed)
    if match is None or typed[match.end() :].strip().casefold() not in ("", *_OWN_UNITS[name]):
        return typed
    plain = match[0].replace(",", ".")
    return int(plain) if re.fullmatch(r"[-+]?[0-9]{1,15}", plain) else float(plain)


def faults_of(problems: Sequence[Problem], order: Sequence[int], form: RecipeForm) -> Faults:
    """Each problem beside the box it speaks of."""
    boxes = {".".join(place): name for name, place in PLACES.items()} | {"sold_in": "sold_in"}
    boxes |= {f"tub.water.{key}": box for box, key in TAP.items()}
    faults = Faults()
    for problem in problems:
        near = f" Did you mean {' or '.join(problem.nearest)}?" if problem.nearest else ""
        allowed = f" Allowed: {problem.allowed}." if problem.allowed and problem.allowed not in problem.text else ""
        sentence = f"{_labelled(problem)}{near or allowed}"
        if problem.index is not None and problem.index < len(order):
            key = problem.field.rsplit(".", 1)[-1]
            box = next((box for box, own in LINE_KEYS.items() if own == key), "use")
            faults.add(f"line-{order[problem.index]}-{box}", sentence)
        elif problem.field == "tub.water":
            faults.add("water", sentence)
        else:
            box = boxes.get(problem.field, "")
            typed = form.text_of(box)
            if box in TAP and isinstance(mmol_l(TAP[box], typed), str):
                sentence = (
                    f'Read: "{typed}". Write a number with its unit, such as {_TAP_EXAMPLES.get(TAP[box], "20 mg/l")}.'
                )
            if box in NUMBERS and isinstance(_value(box, typed), str):
                sentence = f'Read: "{typed}". Write {problem.allowed}.'
            faults.add(box, sentence)
    return faults


def _labelled(problem: Problem) -> str:
    """The sentence with the label of the box where it begins with the key of the document."""
    first, space, rest = problem.text.partition(" ")
    key = problem.field.rsplit(".", 1)[-1]
    return f"{_KEY_LABELS.get(key, first)} {rest}" if space and first == key else problem.text
