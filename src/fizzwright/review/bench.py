"""The bench: the lines of a mix laid out by what happens to them, and what to have within reach."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.recipe.measures import is_poured
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.review import handling
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, piece
from fizzwright.wording import listed

SMALL_SCALE_G = 5.0
"""Below this no kitchen scale is any help, whatever step it shows."""
SYSTEM_WORDS = {"us": "US", "metric": "metric", "uk": "UK", "au": "Australian"}
STEPS_TO_TRUST = 10.0
"""estimate: a mass of fewer steps than this is half a step, five percent or more, uncertain: a finer scale it is."""
COOLER_THAN_FLASH_C = 5.0
"""estimate: how far below the lowest flash point the warm fat should be when the scent goes in."""
SHAKY_HAND_C = 45.0
"""estimate: the warmest a fat should be when it meets bicarbonate, which starts to decompose near 50 °C."""


@dataclass(frozen=True)
class Bench:
    """The lines of the mix laid out by what happens to them."""

    mix: Mix
    size: Piece
    catalogue: Catalogue
    base: tuple[MixLine, ...]
    colours: tuple[MixLine, ...]
    fillers: tuple[MixLine, ...]
    foam: tuple[MixLine, ...]
    acids: tuple[MixLine, ...]
    melted: tuple[MixLine, ...]
    oily: tuple[MixLine, ...]
    """Poured: carrier oils, solubilisers, emulsifiers, humectants, foaming liquids."""
    scent: tuple[MixLine, ...]
    binders: tuple[MixLine, ...]

    @property
    def parts(self) -> list[str]:
        """The parts in the order they are pressed: the core before its shell, layers as numbered."""
        named = list(dict.fromkeys(m.part for m in self.mix.lines))
        return sorted(named, key=lambda part: (part == "shell", part))

    @property
    def flash(self) -> tuple[float, MixLine] | None:
        """The lowest flash point of the scent, with its line; None when none is known."""
        known = [(f, m) for m in self.scent if (f := getattr(m.entry, "flash_point_c", None)) is not None]
        return min(known, key=lambda pair: pair[0]) if known else None

    @property
    def dry(self) -> tuple[MixLine, ...]:
        """All powders but the acids."""
        return (*self.base, *self.colours, *self.fillers, *self.foam)


def lay_out(mix: Mix, catalogue: Catalogue) -> Bench:
    """Sort the lines of a mix by what happens to them; every line goes to exactly one place."""
    places: dict[str, list[MixLine]] = {
        name: [] for name in ("base", "colours", "fillers", "foam", "acids", "melted", "oily", "scent", "binders")
    }
    for line in mix.lines:
        places[_place(line)].append(line)
    return Bench(mix, piece(mix, catalogue), catalogue, **{name: tuple(lines) for name, lines in places.items()})


def _place(line: MixLine) -> str:
    material = line.material
    if material is None:
        return "scent"
    if material.function == "binder_liquid":
        return "binders"
    if _melts(material):
        return "melted"
    if is_poured(material):
        return "oily"
    return {"base": "base", "acid": "acids", "colourant": "colours", "surfactant": "foam"}.get(
        material.function, "fillers"
    )


def _melts(material: Material) -> bool:
    """True for a fat or wax that is solid in the room and goes in melted."""
    point = material.melting_point_c
    if material.function == "solid_fat":
        return True
    return (
        material.function in ("emulsifier", "hardener", "solubiliser") and point is not None and 30.0 <= point <= 90.0
    )


def cool_to(bench: Bench) -> float:
    """Temperature below which the warm fat meets the scent and the bicarbonate."""
    flash = bench.flash
    return min(SHAKY_HAND_C, flash[0] - COOLER_THAN_FLASH_C) if flash else SHAKY_HAND_C


def hottest_melt(bench: Bench) -> tuple[float, MixLine] | None:
    """The highest melting point among what is melted, with its line; None when none is known."""
    known = [(p, m) for m in bench.melted if m.material is not None and (p := m.material.melting_point_c) is not None]
    return max(known, key=lambda pair: pair[0]) if known else None


def ids(*groups: Iterable[MixLine]) -> tuple[str, ...]:
    """The `use` ids of lines, each once."""
    return tuple(dict.fromkeys(m.id for group in groups for m in group))


def names(*groups: Iterable[MixLine]) -> str:
    """The names of lines as a sentence lists them, each once."""
    return listed(m.name for group in groups for m in group)


def by_part(bench: Bench, lines: Iterable[MixLine]) -> str:
    """Names of lines; when not every part has the same, each with its part: "polysorbate 80 for the core"."""
    lines = tuple(lines)
    told = [{m.name for m in lines if m.part == part} for part in bench.parts]
    if all(names_there == told[0] for names_there in told):
        return names(lines)
    in_order = [m for part in bench.parts for m in lines if m.part == part]
    return listed(f"{m.name} for {part_word(m.part)}" for m in in_order)


def part_word(part: str) -> str:
    """A part as a maker says it: the core, the shell, layer 1."""
    return f"the {part}" if part in ("core", "shell") else part.replace("_", " ")


def fine_below_g(scale_step_g: float) -> float:
    """The mass in grams below which a line goes on the fine scale, by the step of the kitchen scale: 10 g for 1 g."""
    return max(SMALL_SCALE_G, STEPS_TO_TRUST * scale_step_g)


def ready(bench: Bench, setting: Setting) -> list[str]:
    """Things to have within reach before the first weighing."""
    lines, size, mould = bench.mix.lines, bench.size, bench.mix.mould
    materials = handling.of_lines(lines)
    step = setting.workshop.scale_step_g if setting.workshop else 1.0
    things = [f"kitchen scale, {step:g} g steps"]
    limit = fine_below_g(step)
    if any(m.grams < limit for m in lines):
        own = setting.workshop.small_scale_step_g if setting.workshop else None
        lacking = ", which your workshop does not list" if setting.workshop and own is None else ""
        things.append(f"fine scale, {own or 0.01:g} g steps, for all under {limit:g} g{lacking}")
    if any(m.volume_ml is not None for m in lines):
        things.append(f"cups and spoons, {SYSTEM_WORDS[bench.mix.recipe.measures]} sizes")
    bowls = len(bench.parts) + bool(bench.acids) + bool(bench.fillers)
    things += [f"{bowls} dry bowls" if bowls > 1 else "a dry bowl", "fine sieve, spoon, whisk"]
    things.append("gloves")
    if any(handling.is_dusty(m) for m in materials):
        things.append("dust mask and goggles")
    if bench.melted:
        things.append("jug in a pan of warm water, and a thermometer")
    if bench.scent:
        things.append("dropper, one an oil")
    if bench.binders:
        things.append("spray bottle with a fine mist")
    if any(handling.burns(m) for m in materials):
        things.append("no flame or heater in the room; window open")
    if size.is_powder:
        things.append("tray to dry on, dry jar with lid and scoop")
    elif mould is not None:
        things.append(_mould_count(bench, mould.name, mould.cavities, mould.flexible))
        things.append("dry cloth or rack to dry on")
    things.append("water for eyes, dry towels for hands")
    things.append("pen, labels, lot numbers")
    return things


def _mould_count(bench: Bench, name: str, cavities: int, flexible: bool) -> str:
    pieces = bench.size.asked or bench.size.pieces
    if not flexible:
        return f"{name}: one is enough for {pieces}, it is emptied at once"
    moulds = max(-(-pieces // cavities), 1)
    return f"{name}: {moulds} of them, {pieces} pieces dry inside"
