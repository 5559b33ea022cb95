"""What dries, where it lies and how long it takes: a mix as a porous body that loses alcohol and water."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.damp import can_fizz, danger_humidity_pct
from fizzwright.review.sizes import UNKNOWN_BULK_DENSITY_G_ML, Piece, loose_density, packed_density, true_densities
from fizzwright.review.tap import Span, log_spread, span, spread
from fizzwright.review.work_air import kind_of
from fizzwright.science import drying, packing
from fizzwright.science.drying import WATER
from fizzwright.science.transfer import AIR_G_MOL, ATMOSPHERE_PA, ZERO_C_K, diffusivity_air_m2_s

Array = NDArray[np.float64]
Numbers = float | Array

DRAWS = 64
REST_SHARE = 0.1
"""A tenth of what went in may stay: makers weigh until nothing changes, and kitchen scales see no less."""
LAYER_M = 0.01
"""A powder spread a centimetre deep."""
TRAY_M = 0.3
LONG_BODIES = {"cuboid": "height_mm", "cylinder": "height_mm", "heart": "depth_mm", "frustum": "height_mm"}
"""Shapes as deep everywhere as the dimension named: left in the mould they dry as a slab."""
FACTS = (
    "drying_tortuosity",
    "drying_residue",
    "drying_turn_left",
    "air_speed_indoors",
    "drying_fan",
    "drying_film_share",
)


@dataclass(frozen=True)
class Body:
    """What dries, cubic metre by cubic metre; arrays hold the likely case first, then draws."""

    alcohol: str
    """isopropyl or ethanol: whichever there is more of; the other is reckoned along with it."""
    loads: tuple[Numbers, Numbers]
    """Alcohol and water, kg in a cubic metre of the piece."""
    activity: Numbers
    """Of the alcohol, while it leaves its water behind."""
    over_damp_pct: Numbers
    """Humidity over the water in the piece, which acid, carbonate and salts hold back."""
    porosity: Numbers
    rest: Numbers
    """kg/m3 that may stay."""
    of: dict[str, Numbers]
    """Coefficients, by id of their fact."""

    @property
    def put_in(self) -> Array:
        """Alcohol and water together, kg/m3."""
        return np.asarray(self.loads[0] + np.asarray(self.loads[1]))


@dataclass(frozen=True)
class Place:
    """Where a piece lies: how far its inside is from the air, and how much face it has."""

    path_m2: float
    depth_m: float
    """Volume over bare face."""
    across_m: float
    is_ball: bool = True


@dataclass(frozen=True)
class Course:
    """One way of drying: for alcohol and water each, seconds a unit of way takes (inf: never), and the two ways."""

    scales: tuple[Array, Array]
    paths: tuple[Array, Array]
    films: tuple[Array, Array]
    cooler_c: Array
    """By how much the piece is colder than the room while the faster of the two leaves."""
    is_ball: bool


def liquid_shares(mix: Mix, grams: Array) -> tuple[Array, Array]:
    """Alcohol and free water as shares of the mass; grams (..., lines)."""
    total = grams.sum(axis=-1)
    alcohol = np.array([m.material.alcohol_mass_pct / 100.0 if m.material else 0.0 for m in mix.lines])
    water = np.array([m.material.water_mass_pct / 100.0 if m.material else 0.0 for m in mix.lines])
    return np.asarray(np.einsum("...l,l->...", grams, alcohol) / total), np.asarray(
        np.einsum("...l,l->...", grams, water) / total
    )


def _alcohol_of(mix: Mix) -> str:
    held = {"isopropyl": 0.0, "ethanol": 0.0}
    for line, grams in zip(mix.lines, mix.grams, strict=True):
        if line.material is not None and line.material.alcohol_mass_pct > 0:
            held[kind_of(line.material)] += float(grams) * line.material.alcohol_mass_pct
    return max(held, key=lambda kind: held[kind])


def _over_damp_pct(mix: Mix, catalogue: Catalogue, share: Numbers, z: Array | None) -> Array:
    """Humidity over the damp spots a watery binder leaves: from the danger humidity some way to the next material's own.

    Where acid meets carbonate the acid is used up, and what is left beside it melts in damper air only; any other salt
    that sets the danger humidity stays and goes on setting it.
    """
    danger = danger_humidity_pct(mix, catalogue)
    likely = np.asarray(danger.value if z is None else spread((danger.low, danger.value, danger.high), z))
    if can_fizz(mix):
        least = span(catalogue.fact("damp_line"))[1] / 100.0 * float(mix.grams.sum())
        others = [
            m.material.critical_relative_humidity_pct_25c
            for m, grams in zip(mix.lines, mix.grams, strict=True)
            if m.material is not None
            and m.material.function != "acid"
            and m.material.critical_relative_humidity_pct_25c is not None
            and grams >= least
        ]
        likely = likely + share * np.maximum(min(others, default=danger.value) - likely, 0.0)
    return np.asarray(np.clip(likely, 1.0, 100.0))


def _coefficient(catalogue: Catalogue, fact_id: str, z: Array | None) -> Numbers:
    around: Span = span(catalogue.fact(fact_id))
    return around[1] if z is None else log_spread(around, z)


def body_of(
    mix: Mix, catalogue: Catalogue, size: Piece, z: Array | None, pressed: tuple[Array, Array] | None = None
) -> Body:
    """What dries; z (draws, 8) for the likely case and draws, None for the likely case alone.

    pressed: other grams (draws, lines) and solid fractions (draws,) in place of the mix's own; with z None the
    coefficients stay at their likely values.
    """
    column = (lambda i: None) if z is None else (lambda i: z[:, i])
    of = {fact_id: _coefficient(catalogue, fact_id, column(i)) for i, fact_id in enumerate(FACTS)}
    grams = (
        pressed[0]
        if pressed
        else (
            mix.grams
            if z is None
            else np.vstack([mix.grams, mix.draws_g[:: max(len(mix.draws_g) // DRAWS, 1)][:DRAWS]])
        )
    )
    liquid = mix.is_liquid
    solids_g = np.maximum((grams * ~liquid).sum(axis=-1), 1e-9)
    skeleton = np.asarray(packing.true_density_of_solids_g_ml(grams * ~liquid, true_densities(mix)))
    if size.is_powder:
        loose = loose_density(mix)
        density = np.asarray(loose if np.isfinite(loose) else UNKNOWN_BULK_DENSITY_G_ML)
        filled = density * solids_g / grams.sum(axis=-1) / skeleton
    else:
        filled = np.asarray(packing.HAND_PRESSED[1] if z is None else spread(packing.HAND_PRESSED, z[:, 6]))
        filled = pressed[1] if pressed else filled
        density = packed_density(mix, grams, filled)
    alcohol, water = liquid_shares(mix, grams)
    stays_g = (grams * liquid * mix.cured_fraction).sum(axis=-1)
    oily = filled * skeleton * stays_g / solids_g / packing.OILY_LIQUID_G_ML
    kilos = 1000.0 * density
    put_in = alcohol + water
    rest = np.minimum(np.maximum(REST_SHARE * put_in, np.asarray(of["drying_residue"]) / 100.0), put_in)
    kind = _alcohol_of(mix)
    return Body(
        kind,
        (kilos * alcohol, kilos * water),
        drying.leaving_activity(kind, alcohol, water, REST_SHARE),
        _over_damp_pct(mix, catalogue, of["drying_film_share"], column(7)),
        np.maximum(1.0 - filled - oily, 0.1),
        kilos * rest,
        of,
    )


def has_powder(mix: Mix) -> bool:
    """True when there are grains for pores to lie between; liquids and fats alone make no body that dries."""
    return bool(np.any(mix.grams[~mix.is_liquid] > 0))


def is_dry(body: Body) -> bool:
    """True when no more liquid went in than may stay."""
    return bool(np.ravel(body.put_in)[0] <= np.ravel(body.rest)[0] * (1 + 1e-9))


def _volume_m3(mix: Mix, size: Piece) -> float:
    density = float(packed_density(mix, mix.grams, packing.HAND_PRESSED[1]))
    return 1e-6 * (size.volume_ml or size.piece_g.value / density)


def on_rack(mix: Mix, size: Piece) -> Place:
    """Bare all round; another shape as the ball with as much volume to its face. A powder: a shallow layer."""
    if size.is_powder:
        return Place(drying.SLAB * LAYER_M**2, LAYER_M, TRAY_M, is_ball=False)
    volume = _volume_m3(mix, size)
    mould = mix.mould
    if mould is not None and mould.shape in packing.SHAPES:
        radius = 3.0 * volume / (1e-6 * float(packing.surface_mm2(mould.shape, **dict(mould.dims_mm))))
    else:
        radius = float(np.cbrt(3.0 * volume / (4.0 * np.pi)))
    return Place(drying.BALL_WHOLE * radius**2, radius / 3.0, 2.0 * radius)


def in_mould(mix: Mix, size: Piece) -> Place | None:
    """Left in the mould: one half lifted off, or the top of the cavity bare; None for a powder or a press."""
    mould = mix.mould
    if size.is_powder or mould is None or mould.shape == "weight":
        return None
    volume = _volume_m3(mix, size)
    rack = on_rack(mix, size)
    if mould.shape in LONG_BODIES and not mould.halves:
        depth = 1e-3 * mould.dims_mm[LONG_BODIES[mould.shape]]
        return Place(drying.SLAB * depth**2, depth, rack.across_m, is_ball=False)
    if mould.shape == "half_sphere":
        radius = 5e-4 * mould.dims_mm["diameter_mm"]
        return Place(drying.HALF_BALL_FACE * radius**2, 2.0 / 3.0 * radius, 2.0 * radius, is_ball=False)
    radius = float(np.cbrt(3.0 * volume / (4.0 * np.pi)))
    return Place(drying.BALL_HALF_OPEN * radius**2, 2.0 * rack.depth_m, rack.across_m)


def speed_of(body: Body, fan: bool) -> Numbers:
    """Speed of the air over the rack in m/s, of itself or with a fan."""
    still = body.of["air_speed_indoors"]
    return np.asarray(np.maximum(still, body.of["drying_fan"])) if fan else still


def course_of(body: Body, place: Place, room_c: Numbers, humidity_pct: Numbers, speed_m_s: Numbers) -> Course:
    """How a body dries in a place, in rooms that broadcast with its draws."""
    room = np.asarray(room_c, dtype=float)
    damp_pa = drying.saturation_pa(WATER, room) * np.asarray(humidity_pct) / 100.0
    alcohol = _front(body, place, body.alcohol, body.loads[0], body.activity, 0.0, room, speed_m_s)
    water = _front(body, place, WATER, body.loads[1], np.asarray(body.over_damp_pct) / 100.0, damp_pa, room, speed_m_s)
    # frozen water stays where it is
    frozen = np.where(room > 0, water[0], np.inf)
    return Course(
        (alcohol[0], np.asarray(frozen)),
        (alcohol[1], water[1]),
        (alcohol[2], water[2]),
        np.maximum(np.where(np.asarray(body.loads[0]) > 0, alcohol[3], 0.0), water[3]),
        place.is_ball,
    )


def _front(
    body: Body,
    place: Place,
    liquid: str,
    load: Numbers,
    activity: Numbers,
    outside_pa: Numbers,
    room: Array,
    speed_m_s: Numbers,
) -> tuple[Array, Array, Array, Array]:
    """Load over drop, path and film of one liquid, and how much colder than the room it makes the piece."""
    in_air = diffusivity_air_m2_s(drying.g_mol_of(liquid), room)
    path = place.path_m2 / drying.pore_diffusivity_m2_s(in_air, body.porosity, body.of["drying_tortuosity"])
    full = np.asarray(activity) * drying.saturation_pa(liquid, room) - outside_pa
    # how much of the difference lies across the air film sets how the air sinks, and that sets the film: two rounds do
    across_film, cooler = np.asarray(0.2), np.asarray(1.0)
    for _ in range(2):
        heavier = (drying.g_mol_of(liquid) / AIR_G_MOL - 1.0) * full * across_film / ATMOSPHERE_PA
        film_m_s, heat = drying.film_m_s(
            liquid, room, place.across_m, speed_m_s, np.abs(heavier + cooler / (room + ZERO_C_K))
        )
        film = place.depth_m / film_m_s
        celsius = drying.cooled_c(liquid, room, outside_pa, place.depth_m / (path + film), heat, activity)
        across_film, cooler = film / (path + film), room - celsius
    pressure = np.asarray(activity) * drying.saturation_pa(liquid, celsius) - outside_pa
    drop = drying.vapour_kg_m3(liquid, pressure, room)
    load_, drop_ = np.broadcast_arrays(np.asarray(load, dtype=float), drop)
    scale = np.divide(load_, drop_, out=np.full(drop_.shape, np.inf), where=drop_ > 0)
    return scale, np.asarray(path), np.asarray(film), np.asarray(cooler)


def hours_until_dry(body: Body, course: Course, rest: Numbers | None = None) -> Array:
    """Hours until no more than `rest` (kg/m3; as the body says when not given) is left."""
    left = body.rest if rest is None else rest
    seconds = drying.seconds_until(left, body.loads, course.scales, course.paths, course.films, course.is_ball)
    return np.asarray(seconds / 3600.0)


def left_pct(body: Body, course: Course, hours: Array) -> Array:
    """Liquid left at each hour, percent of what went in; the likely case only."""
    shares = 1.0 - np.linspace(0.0, 1.0, 121) ** 2
    left = np.zeros(hours.shape)
    for load, scale, path, film in zip(body.loads, course.scales, course.paths, course.films, strict=True):
        mass = float(np.ravel(load)[0])
        if mass <= 0:
            continue
        s, p, f = (float(np.ravel(v)[0]) for v in (scale, path, film))
        if not np.isfinite(s):
            left += mass
            continue
        seconds = drying.front_seconds(shares, s, 1.0, p, f, course.is_ball)
        left += mass * np.interp(3600.0 * hours, seconds, shares)
    return np.asarray(100.0 * left / float(np.ravel(body.put_in)[0]))
