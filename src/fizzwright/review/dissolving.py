"""How what goes into one bath comes apart: how long it fizzes, what shows when, whether it floats and turns."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.bench import part_word
from fizzwright.review.figures import Curve, Cutaway, Figure, Input, Notice, Working
from fizzwright.review.floating import SPINS, floating_of, notices_of
from fizzwright.review.parts import Course, colours_of, course_of
from fizzwright.review.release import Release
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, Range
from fizzwright.review.tub_defaults import bath
from fizzwright.science import erosion
from fizzwright.science.erosion import EQUATIONS
from fizzwright.wording import duration_text, sentence, shown

Array = NDArray[np.float64]

PLAIN_COLOUR = "#f3efe6"
"""An uncoloured piece: near white."""
MOMENTS = 120
"""Steps in time of a release, from 0 to gone; the curves keep every second."""
ROCKS = 0.05
"""estimate: one-sidedness of the push from which a floating piece rocks or turns slowly."""
FLAWS = 0.05
"""estimate: one-sidedness that small cracks and lumps give any piece."""
GAS_FACTOR = 1.3
"""estimate: how far the gas of one part may be off against another's, for the range of the turning."""
OVER_SOON_S = 30.0
"""estimate: gone within half a minute is over before a bather has sat down."""


def _around(value: float, factor: float) -> Range:
    return Range(value, value / factor, value * factor)


def powder_gone(mix: Mix, catalogue: Catalogue) -> Range:
    """When a loose powder is gone: as timed, else the estimate for its grains at the temperature of the bath."""
    if mix.recipe.tub.fizzed_in_s is not None:
        return _around(mix.recipe.tub.fizzed_in_s, erosion.OWN_FACTOR)
    warmth = float(erosion.warmth(bath(mix.recipe, catalogue).temperature_c))
    low, typical, high = (seconds / warmth for seconds in erosion.GRAIN_S)
    return Range(typical, low, high)


def release(mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece) -> Release:
    """How one bath's pieces or powder come apart: the share of each part in the water over time.

    Several pieces in one bath are alike, so they come apart together. A powder has no shape: its grains shrink.
    """
    written = tuple(dict.fromkeys((*(m.part for m in mix.lines), "whole")))
    if size.is_powder:
        gone = powder_gone(mix, catalogue)
        seconds = np.linspace(0.0, gone.value, MOMENTS + 1)
        share = np.asarray(erosion.grains_dissolved(seconds, gone.value))
        basis = "estimate" if mix.recipe.tub.fizzed_in_s is None else "your_own_batches"
        return Release(seconds, dict.fromkeys(written, share), gone, dict.fromkeys(written, 0.0), basis)
    course = course_of(mix, catalogue, setting, size)
    step = (len(course.solved.seconds) - 1) // MOMENTS
    gone_share = np.clip(1.0 - course.solved.left[:, ::step], 0.0, 1.0)
    of_part = {part.name: gone_share[i] for i, part in enumerate(course.parts)}
    shows = {part.name: start * course.second for part, start in zip(course.parts, course.solved.shows, strict=True)}
    mixed = np.array([part.mass_share for part in course.parts]) @ gone_share
    for name in written:
        if name not in of_part:
            of_part[name], shows[name] = _share_of_lines(mix, course, name, gone_share, mixed)
    return Release(
        course.solved.seconds[::step] * course.second,
        of_part,
        _around(course.gone_s, course.factor),
        shows,
        course.basis,
    )


def _share_of_lines(mix: Mix, course: Course, name: str, gone: Array, mixed: Array) -> tuple[Array, float]:
    """The dissolving of lines whose part is no part of the piece: "whole", or the only part that the recipe names."""
    of = np.array([m.part == name for m in mix.lines])
    if not of.any():
        return mixed, 0.0
    grams = np.array([(mix.grams * part.share * of).sum() for part in course.parts])
    if grams.sum() <= 0:
        return mixed, 0.0
    starts = [start for start, held in zip(course.solved.shows, grams, strict=True) if held > 0]
    return (grams / grams.sum()) @ gone, min(starts) * course.second


def figures(
    mix: Mix,
    catalogue: Catalogue,
    setting: Setting,
    size: Piece,
    release: Release,
    part_colours: Mapping[str, str] | None = None,
) -> tuple[list[Figure], list[Notice], list[Curve], Cutaway | None]:
    """What a maker is told of it: fizz_seconds, and for a piece floats, turns and shows_s.<part> (core_shows_s)."""
    if size.is_powder:
        return _powder(mix, catalogue, setting, release)
    course = course_of(mix, catalogue, setting, size)
    floating = floating_of(mix, size, course)
    turns = _turns(course)
    found = [_fizz(catalogue, course, release), *_shows(course, release), floating.figure(), turns]
    notices = [
        *_timing(catalogue, course, release),
        *notices_of(floating, float(turns.value)),
    ]
    return found, notices, [_dissolved(course, release), floating.curve()], _cutaway(mix, course, part_colours)


def _fizz(catalogue: Catalogue, course: Course, release: Release) -> Figure:
    gone = release.gone_s
    whose = "as your own test tells" if course.basis == "your_own_batches" else "an estimate until you time one"
    return Figure(
        "fizz_seconds",
        gone.value,
        "s",
        f"A piece fizzes for about {duration_text(gone.value)} ({duration_text(gone.low)} to {duration_text(gone.high)}): {whose}.",
        Working(f"{EQUATIONS['gone']}; {EQUATIONS['arrival']}; {EQUATIONS['speed']}", course.inputs),
        gone.low,
        gone.high,
        sources=catalogue.fact("efferv_bathbomb").sources_of("typical"),
        basis=course.basis,
    )


def _shows(course: Course, release: Release) -> list[Figure]:
    """When each part first meets the water, for a piece of several."""
    if len(course.parts) == 1:
        return []
    found = []
    for part, left in zip(course.parts, course.solved.left, strict=True):
        first = release.shows_s[part.name]
        last = float(course.solved.seconds[int(np.argmax(left < 0.01))]) * course.second
        word = part_word(part.name)
        text = (
            f"{sentence(word)} shows after about {duration_text(first)}"
            if first > 0
            else f"{sentence(word)} is seen from the start"
        )
        found.append(
            Figure(
                "core_shows_s" if part.name == "core" else f"shows_s.{part.name}",
                first,
                "s",
                f"{text} and is as good as gone after {duration_text(last)}.",
                Working(EQUATIONS["arrival"], course.inputs),
                first / course.factor,
                first * course.factor,
                basis=course.basis,
            )
        )
    return found


def _turns(course: Course) -> Figure:
    """How one-sided the gas pushes."""
    rates = [part.gas_g_per_g * part.density_g_ml * v for part, v in zip(course.parts, course.speeds_mm_s, strict=True)]
    value, low, high = 0.0, 0.0, 0.0
    pushes = course.solved.pushes
    if pushes is not None:
        value = erosion.turning(pushes, rates)
        tries = [value, *(erosion.turning(pushes, [rates[0] * f, *rates[1:]]) for f in (GAS_FACTOR, 1 / GAS_FACTOR))]
        low, high = min(tries), max(tries)
    if value >= SPINS:
        text = "Its parts fizz so unevenly that, afloat, it is likely to spin."
    elif value >= ROCKS:
        text = "One side fizzes harder than the other: afloat, it rocks or turns slowly."
    else:
        text = "It fizzes evenly all round: nothing in the recipe turns it, small flaws may set it rocking."
    inputs = tuple(
        Input(
            f"gas of {part_word(part.name) if part.name != 'whole' else 'the piece'}",
            float(f"{rate:.3g}"),
            "mg/(mm2 s)",
        )
        for part, rate in zip(course.parts, rates, strict=True)
    )
    return Figure(
        "turns", value, "", text, Working(EQUATIONS["turning"], inputs), low, min(high + FLAWS, 1.0), basis="estimate"
    )


def _timing(catalogue: Catalogue, course: Course, release: Release) -> list[Notice]:
    """What is too soon or too late for the bath it is meant for."""
    soak = catalogue.fact("bath_duration")
    typical_s = 60.0 * (soak.typical or 20.0)
    sources = soak.sources_of("typical")
    notices = []
    core = release.shows_s.get("core", 0.0)
    if core > typical_s / 2:
        notices.append(
            Notice(
                "mind",
                f"The core shows only after about {duration_text(core)}, when half the bath is over. A larger core or a faster shell "
                "(less oil, pressed more lightly) shows it sooner.",
                f"compared with: half a usual bath of {duration_text(typical_s)}",
                sources,
                "core_shows_s",
            )
        )
    gone = release.gone_s.value
    if gone > typical_s:
        notices.append(
            Notice(
                "mind",
                f"It takes about {duration_text(gone)} to dissolve, longer than a usual bath. Smaller, lighter pressed or less oily it goes faster.",
                f"compared with: a usual bath of {duration_text(typical_s)}",
                sources,
                "fizz_seconds",
            )
        )
    elif gone < OVER_SOON_S:
        notices.append(
            Notice(
                "mind",
                f"It is gone after about {duration_text(gone)}: there is little to watch.",
                f"compared with: {duration_text(OVER_SOON_S)} (estimate)",
                figure="fizz_seconds",
            )
        )
    return notices


def _dissolved(course: Course, release: Release) -> Curve:
    """The share of each part in the water over time."""
    names = {part.name: "the piece" if part.name == "whole" else part_word(part.name) for part in course.parts}
    marks = {f"{names[name]} shows": release.shows_s[name] / 60.0 for name in names if release.shows_s[name] > 0}
    half = float(np.interp(0.5, release.dissolved["whole"], release.seconds))
    return _curve(
        f"Half of it is in the water after {duration_text(half)}, all after {duration_text(release.gone_s.value)}.",
        release,
        {names[name]: release.dissolved[name] for name in names},
        marks,
    )


def _curve(title: str, release: Release, lines: Mapping[str, Array], marks: Mapping[str, float]) -> Curve:
    return Curve(
        "dissolved",
        title,
        "time",
        "min",
        "dissolved",
        "%",
        tuple(float(s) / 60.0 for s in release.seconds[::2]),
        {name: tuple(float(100.0 * share) for share in shares[::2]) for name, shares in lines.items()},
        marks,
    )


def _cutaway(mix: Mix, course: Course, part_colours: Mapping[str, str] | None) -> Cutaway:
    """The piece cut through, with when the water reaches each spot."""
    solved = course.solved
    seconds = solved.cut_seconds * course.second
    how = "lying" if solved.level_cut else "standing"
    told = [
        f"{part_word(part.name)} shows after {duration_text(start * course.second)}"
        for part, start in zip(course.parts, solved.shows, strict=True)
        if start > 0
    ]
    if len(course.parts) > 1 and not told:
        told = [f"{len(course.parts)} layers, one upon the other, meet the water at once"]
    wide = solved.spacing_mm * (np.isfinite(seconds).any(axis=0).sum() - 1)
    return Cutaway(
        solved.spacing_mm,
        seconds,
        solved.cut_part,
        tuple(part.name for part in course.parts),
        colours_of(course.parts, mix, part_colours, PLAIN_COLOUR),
        f"A piece of about {shown(float(wide))} mm cut through its middle, {how}. The water eats in from the outside; "
        f"{''.join(t + '; ' for t in told)}the last of it goes after {duration_text(course.gone_s)}.",
    )


def _powder(
    mix: Mix, catalogue: Catalogue, setting: Setting, release: Release
) -> tuple[list[Figure], list[Notice], list[Curve], Cutaway | None]:
    """A loose powder: no shape, nothing to float or turn."""
    gone = release.gone_s
    inputs = [Input("water", bath(mix.recipe, catalogue).temperature_c, "°C")]
    if mix.recipe.tub.fizzed_in_s is not None:
        inputs.append(Input("timed test", mix.recipe.tub.fizzed_in_s, "s", "", "your own"))
    else:
        inputs.append(Input("grains gone at 38 °C after", erosion.GRAIN_S[1], "s", "", "estimate"))
    if setting.speed_mm_s is not None:
        inputs.append(Input("speed given, not used: a powder has no face to eat into", setting.speed_mm_s, "mm/s"))
    figure = Figure(
        "fizz_seconds",
        gone.value,
        "s",
        f"The powder fizzes for about {duration_text(gone.value)} ({duration_text(gone.low)} to {duration_text(gone.high)}).",
        Working(EQUATIONS["grains"], tuple(inputs)),
        gone.low,
        gone.high,
        sources=catalogue.fact("efferv_time_tablet").sources_of("typical"),
        basis=release.basis,
    )
    title = f"All of the powder is in the water after {duration_text(gone.value)}."
    return [figure], [], [_curve(title, release, {"the powder": release.dissolved["whole"]}, {})], None
