"""Kitchens by the ten thousand through every section but the erosion of the piece, a slice at a time."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review import cost, dissolving, views, water
from fizzwright.review.airing import airing
from fizzwright.review.chemistry import fizz_of
from fizzwright.review.damp import can_fizz
from fizzwright.review.kitchen_outcomes import fizz_seconds
from fizzwright.review.kitchens import (
    Kitchens,
    checked_count,
    checked_habit,
    judge,
    kitchens_at,
    plan_of,
    points_of,
    slice_of,
)
from fizzwright.review.kitchens import stopping as stopping_checks
from fizzwright.review.limits import Check, cured_g
from fizzwright.review.rack import body_of, course_of, has_powder, hours_until_dry, is_dry, on_rack, speed_of
from fizzwright.review.room import Room, usual_room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, piece
from fizzwright.review.standing import LONGEST_MINUTES, SPENT_SHARE, Estimates, batch_of, danger, likely, sums_of
from fizzwright.review.vapour import drying_h
from fizzwright.review.work_air import work_air
from fizzwright.science import equilibrium, exposure, runaway
from fizzwright.science.equilibrium import MOST_MMOL_L

Array = NDArray[np.float64]
Sections = Mapping[str, Mapping[str, Array]]

WORKERS = 2
RTOL = 1e-2
"""Error of a step of the open bowl; how fast damp works is known to no better than a factor."""


@dataclass(frozen=True)
class _Bench:
    """What all slices share."""

    catalogue: Catalogue
    setting: Setting
    room: Room
    checks: list[Check]
    damp: Estimates
    smelt: tuple[Array, Array] | None
    """The likely bath's mg/m3 of scent over time for each scented line as written, (times, lines), and those lines' places."""
    drying_h: float


def through(
    mix: Mix,
    catalogue: Catalogue,
    setting: Setting | None = None,
    count: int = 2**16,
    *,
    seed: int = 0,
    habit: str = "as_written",
    workers: int = WORKERS,
) -> Sections:
    """The main figures of every section, one entry a kitchen in each array: section id -> figure id -> (count,).

    What a section tells of its own estimates stays at its likely value here; kitchens differ in what they measure, their
    oils, room, tap and tub. The scent in the air is the likely bath's response to what each kitchen drops in. The same for
    one seed whatever the workers. ValueError for a count or habit that cannot be drawn.
    """
    checked_count(count)
    setting = setting or Setting()
    plan = plan_of(mix, catalogue, setting, checked_habit(habit))
    size = piece(mix, catalogue)
    room = setting.room or usual_room(setting.workshop, catalogue)
    air = airing(mix, catalogue, size, dissolving.release(mix, catalogue, setting, size))
    bench = _Bench(
        catalogue,
        setting,
        room,
        stopping_checks(mix, catalogue),
        likely(danger(mix, catalogue), catalogue),
        None
        if air is None
        else (np.einsum("tlk,lk->tl", air.response, air.line_mg), np.array(air.vapours.places, dtype=int)),
        drying_h(mix, catalogue, size, room),
    )
    # the answer does not hang on how many workers take slices, as slices go by their number
    step = slice_of(plan, count)
    starts = range(0, count, step)

    def one(start: int) -> dict[str, dict[str, Array]]:
        return _slice(kitchens_at(plan, points_of(plan, step, seed, start)), bench)

    with ThreadPoolExecutor(max_workers=workers) as pool:
        slices = list(pool.map(one, starts))
    return {
        # a bath too strong to reckon in one slice is told of in none
        name: {
            figure: np.concatenate([part[name][figure] for part in slices])
            for figure in figures
            if all(figure in part[name] for part in slices)
        }
        for name, figures in slices[0].items()
    }


def _slice(kitchens: Kitchens, bench: _Bench) -> dict[str, dict[str, Array]]:
    mix = kitchens.mix
    grams = mix.draws_g
    size = piece(mix, bench.catalogue, kitchens.solid_fraction, kitchens.kept)
    total, cured = size.total_g_draws, np.asarray(cured_g(mix, grams))
    fizz = fizz_of(mix, grams)
    _, levels = judge(bench.checks, kitchens)
    found: dict[str, dict[str, Array]] = {
        "mix": {"total_g": total, "cured_g": cured},
        "mould": {
            "piece_g": size.piece_g_draws,
            "pieces": size.pieces_draws,
            "leftover_g": total * kitchens.kept - size.pieces_draws * size.piece_g_draws,
        },
        "fizz": {
            "acid_to_base_eq": _wide(fizz.acid_to_base_eq, total),
            "co2_potential_g": _wide(fizz.co2_g, total),
            "leftover_base_g": _wide(fizz.leftover_g(fizz.bases), total),
            "leftover_acid_g": _wide(fizz.leftover_g(fizz.acids), total),
        },
        "tub": {"fizz_seconds": fizz_seconds(kitchens, bench.catalogue, bench.setting, size), **_water(kitchens, size)},
        "skin": {
            **{
                name: level * (c.limit.limit_pct or 1.0)
                for c, (name, level) in zip(bench.checks, levels.items(), strict=True)
            },
            **_scent(kitchens, size, cured),
        },
        "air": _air(kitchens, size, bench),
        "making_day": _day(kitchens, size, bench),
        "cost": {},
    }
    workshop = bench.setting.workshop
    if workshop is not None and workshop.prices:
        lines = [cost.line_cost(line, workshop) for line in mix.lines]
        materials, each = cost.drawn(mix, size, workshop, lines)
        found["cost"] = {"materials": materials, "piece": each}
    return found


def _wide(values: object, like: Array) -> Array:
    """As many as there are kitchens, where a recipe gives one answer for all."""
    return np.array(np.broadcast_to(np.asarray(values, dtype=float), like.shape))


def _water(kitchens: Kitchens, size: Piece) -> dict[str, Array]:
    dose = water.dose_of(kitchens.mix, kitchens.mix.draws_g, size, kitchens.litres)
    if any(float(np.max(amount)) > MOST_MMOL_L * 1e-3 for amount in dose.values()):
        return {}
    celsius = kitchens.temperature_c
    start = equilibrium.solve(kitchens.water, {}, celsius)
    dissolved = equilibrium.solve(kitchens.water, dose, celsius)
    settled = equilibrium.solve(kitchens.water, dose, celsius, kitchens.room_atm)
    return {
        "ph_start": _wide(start.ph, celsius),
        "ph_dissolved": _wide(dissolved.ph, celsius),
        "ph_settled": _wide(settled.ph, celsius),
        "alkalinity_mmol_l": _wide(1e3 * np.asarray(dissolved.alkalinity_eq_l), celsius),
        "ionic_strength_mol_l": _wide(dissolved.ionic_strength_mol_l, celsius),
    }


def _scent(kitchens: Kitchens, size: Piece, cured: Array) -> dict[str, Array]:
    mix, grams = kitchens.mix, kitchens.mix.draws_g
    scent = views.scent_of(mix)
    if not scent.present:
        return {}
    oil = grams[:, scent.is_scent].sum(axis=-1)
    in_product = np.asarray(exposure.share_by_mass_pct(oil, cured))
    per_bath = size.piece_g_draws * (1.0 if size.is_powder else size.pieces_per_bath)
    return {
        "neat_in_carrier_pct": views.in_carrier(scent, views.strongest(mix, scent))(grams),
        "in_product_pct": in_product,
        "in_bath_mg_l": np.asarray(exposure.bath_mg_l(oil * per_bath / size.total_g_draws, kitchens.litres)),
        "film_pct": np.asarray(exposure.film_pct(oil, grams[:, scent.is_fixed].sum(axis=-1))),
    }


def _air(kitchens: Kitchens, size: Piece, bench: _Bench) -> dict[str, Array]:
    if bench.smelt is None:
        return {}
    response, places = bench.smelt
    mix = kitchens.mix
    share = size.piece_g_draws / size.total_g_draws / (size.piece_g.value / size.total_g)
    times = mix.draws_g[:, places] / mix.grams[places] * share[:, None]
    return {"total_peak_mg_m3": np.einsum("dl,tl->dt", times, response).max(axis=1)}


def _day(kitchens: Kitchens, size: Piece, bench: _Bench) -> dict[str, Array]:
    mix, catalogue, total = kitchens.mix, bench.catalogue, size.total_g_draws
    found: dict[str, Array] = {}
    if can_fizz(mix):
        batch = batch_of(mix, sums_of(mix, mix.draws_g), bench.damp, kitchens.room_c, kitchens.humidity_pct)
        stood = runaway.stand(batch, LONGEST_MINUTES, RTOL)
        found["open_bowl_minutes"] = _wide(np.minimum(stood.minutes_until(SPENT_SHARE), LONGEST_MINUTES), total)
    if has_powder(mix):
        body = body_of(mix, catalogue, size, None, (mix.draws_g, kitchens.solid_fraction))
        if not is_dry(body):
            course = course_of(body, on_rack(mix, size), kitchens.room_c, kitchens.humidity_pct, speed_of(body, False))
            found["drying_hours"] = _wide(hours_until_dry(body, course), total)
    air = work_air(mix, catalogue, size, bench.room, bench.drying_h, np.zeros((len(total), 7)))
    if air is not None:
        found["alcohol_peak_ppm"] = _wide(air.highest_ppm(air.shut_h), total)
    return found
