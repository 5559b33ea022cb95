"""One bath's scent followed into the room's air: the room, the water, and how much of each constituent hangs there."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Fact
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.model import Tub
from fizzwright.review.figures import sources_of
from fizzwright.review.release import Release
from fizzwright.review.sizes import Piece
from fizzwright.review.tub_defaults import bath
from fizzwright.review.vapours import Vapours, vapours
from fizzwright.review.views import PER_FIXED_OIL_G, PER_SCENT_G, scent_of
from fizzwright.science import aroma, transfer
from fizzwright.science.sampling import standard_normals

Array = NDArray[np.float64]
Span = tuple[float, float, float]
"""Low, likely and high."""

DRAWS = 64
WIDE = 14
"""How many doubts of the bath and the room are drawn."""
NORMAL_95 = 1.6449
SOAK_S = 1200.0
"""The usual soak, facts bath_duration; a piece that dissolves slower is followed for longer."""

WATER_M2: Span = (0.6, 0.8, 1.0)
"""estimate: open water of a tub 1.5 m by 0.55 m less the bather."""
STIRRING_W_KG: Span = (1e-6, 1e-5, 1e-3)
"""estimate: from water that only cools (some 500 W/m2 lost upward stir it by 5e-7 W/kg) to splashing."""
GAS_SIDE_FACTOR: Span = (0.6, 1.0, 1.7)
"""estimate: what draughts and a bather above the water do to the velocity of natural convection."""
FILM_COVER: Span = (0.1, 0.3, 0.8)
"""estimate: share of the water that floating oil covers, in patches."""
FILM_THINNEST_M = 5e-6
"""estimate: patches no thinner than this; oil on water that shows colours is 0.3 to 5 micrometres, dull sheen 5 to 50
(Bonn Agreement oil appearance code; memory)."""
FILM_ACTIVITY: Span = (0.5, 0.8, 1.2)
"""estimate: terpenes among long fat molecules press outward less than their share of molecules says."""
STIRRED_IN: Span = (0.05, 0.2, 0.5)
"""estimate: share of the oil that the fizz breaks into droplets even when nothing holds them."""
MOST_DISPERSED = 0.95
EXPONENT: Span = (0.3, 0.4, 0.5)
"""estimate: Stevens' exponent of odours; published ones run from 0.2 to 0.7."""
NOSES_AGREE = 0.75
"""estimate: correlation of the doubts in odour thresholds; a way of testing that finds one substance low finds all low."""
FIXED_OIL_G_MOL = 800.0
"""estimate: triglycerides weigh from 650 (coconut) to 880 (soya) g/mol."""
OIL_G_M3 = 0.92e6
AJAR: Span = (1.0, 2.0, 4.0)
"""estimate: factor either way of two on the catalogue's air changes with the door ajar."""
FAN: Span = (0.6, 1.0, 1.3)
"""estimate: what fans move against what they are rated for."""


@dataclass(frozen=True)
class Bathroom:
    """The room: air, draught and warmth; the first of each array is the likely one, the rest are draws."""

    m3: Array
    changes_h: Array
    celsius: float
    humidity_pct: float
    said: str
    """As a sentence names it: "10 m3, door shut, fan off"."""
    sources: tuple[str, ...]


@dataclass(frozen=True)
class _Bath:
    """The bath's side of the sum, (draws, 1) each so that constituents broadcast."""

    celsius: float
    m3_water: Array
    water_m2: Array
    film_m2: Array
    film_mol: Array
    oil_share: Array
    film_share: Array
    stirring: Array
    gas_factor: Array


@dataclass(frozen=True)
class Air:
    """One bath's scent in the air over time; draws on the axis after time, the likely one first."""

    vapours: Vapours
    room: Bathroom
    seconds: Array
    mg_m3: Array
    """Shape (times, 1 + DRAWS, K)."""
    activity: Array
    """Odour activity, same shape."""
    strength: Array
    """As `aroma.strength`; shape (times, 1 + DRAWS)."""
    line_mg: Array
    """Milligrams of each constituent that each scented line brings to one bath, likely; shape (L, K)."""
    opened: Array
    """Likely share of each scented line that is in the bath by each moment; shape (times, L)."""
    inside: _Bath
    """The likely bath, shapes (1, 1)."""
    response: Array
    """Likely mg/m3 in the air for each milligram in one bath; shape (times, L, K)."""
    exponent: float
    per_bath: float
    """Share of the whole mix that goes into one bath."""
    evaporated: Array
    """Share of the scent that has left the bath by the end, in each draw without the likely one."""
    stays_water: float
    stays_film: float
    """Share of the scent that is still in the water and in the film when the soak ends."""
    sources: tuple[str, ...]

    @property
    def still_rising(self) -> bool:
        """True when the scent has not reached its height by the end of the soak."""
        return int(self.strength[:, 0].argmax()) == len(self.seconds) - 1

    def likely(self, line_factor: Array | float = 1.0, response: Array | None = None) -> Array:
        """Likely mg/m3 over time when each scented line is taken so many times; shape (..., times, K)."""
        held = self.response if response is None else response
        factor = np.broadcast_to(np.asarray(line_factor, dtype=float), (*np.shape(line_factor)[:-1], len(self.line_mg)))
        return np.asarray(np.einsum("tlk,lk,...l->...tk", held, self.line_mg, factor))

    def strength_of(self, mg_m3: Array) -> Array:
        """Likely strength of concentrations (..., times, K)."""
        return aroma.strength(aroma.odour_activity(mg_m3, self.vapours.threshold_mg_m3), self.exponent)


def _spread(span: Span, z: Array) -> Array:
    """Draws around a likely value whose 5th and 95th percentiles are low and high, on a log scale."""
    low, likely, high = span
    return likely * np.exp(z / NORMAL_95 * np.where(z > 0, np.log(high / likely), np.log(likely / low)))


def _span(fact: Fact) -> Span:
    typical = fact.typical or fact.max or 0.0
    return fact.min or typical, typical, fact.max or typical


def bathroom(tub: Tub, catalogue: Catalogue, z: Array) -> Bathroom:
    """The room of a recipe: as it says, else the catalogue's, and shut when it says nothing. z: shape (draws, 3)."""
    volume = catalogue.fact("room_volume")
    m3 = np.full(len(z), tub.room_m3) if tub.room_m3 else _spread(_span(volume), z[:, 0])
    ajar = tub.door == "ajar"
    draught = catalogue.fact("room_ach_default" if ajar else "room_ach_closed")
    changes = _spread(AJAR if ajar else _span(draught), z[:, 1])
    sources = [() if tub.room_m3 else volume.sources_of("typical"), draught.sources_of("typical")]
    if tub.fan == "on":
        fan = catalogue.fact("room_extract_uk")
        changes = changes + (fan.typical or 0.0) * 3.6 / m3 * _spread(FAN, z[:, 2])
        sources.append(fan.sources_of("typical"))
    said = f"{float(m3[0]):.3g} m³, door {'ajar' if ajar else 'shut'}, fan {'on' if tub.fan == 'on' else 'off'}"
    return Bathroom(
        m3,
        changes,
        _span(catalogue.fact("room_temp"))[1],
        _span(catalogue.fact("room_rh_during"))[1],
        said,
        sources_of(*sources),
    )


def _oils(mix: Mix, per_bath: Array, grams: Array, z: Array, known: Vapours) -> tuple[Array, Array, Array, Array]:
    """Grams of film, moles of film, grams dispersed and share that rises; shape (draws,)."""
    scent = scent_of(mix)
    oil_g, fixed_g = grams[:, scent.is_scent].sum(axis=-1), grams[:, scent.is_fixed].sum(axis=-1)
    held_g = grams @ scent.dispersing
    worth = _spread(PER_SCENT_G, z[:, 1]) * oil_g + _spread(PER_FIXED_OIL_G, z[:, 1]) * fixed_g
    base = _spread(STIRRED_IN, z[:, 0])
    dispersed = np.minimum(MOST_DISPERSED, base + (1 - base) * np.minimum(1.0, held_g / worth))
    mean_mass = known.share.sum() / (known.share / known.molar_mass_g_mol).sum()
    moles = oil_g / mean_mass + fixed_g / FIXED_OIL_G_MOL
    rises = 1 - dispersed
    return (
        per_bath * rises * (oil_g + fixed_g),
        per_bath * rises * moles,
        per_bath * (dispersed * (oil_g + fixed_g) + held_g),
        rises,
    )


def _boxes(known: Vapours, tub: _Bath, room: Bathroom, evaporation: Array) -> aroma.Boxes:
    """The boxes of every draw and constituent; evaporation: factor (draws, K) on pressure and Henry constant."""
    pressure = transfer.vapour_pressure_pa(known.vapour_pressure_pa, tub.celsius) * evaporation
    henry = transfer.henry_at(known.henry_pa_m3_mol, known.slope_k, tub.celsius) * evaporation
    gas = transfer.gas_side_m_s(known.molar_mass_g_mol, tub.celsius, room.celsius, room.humidity_pct) * tub.gas_factor
    water = transfer.water_side_m_s(known.molar_mass_g_mol, tub.celsius, tub.stirring)
    both = transfer.overall_m_s(water, gas, transfer.air_over_water(henry, tub.celsius))
    return aroma.Boxes(
        film=aroma.film_capacity(tub.film_mol, pressure),
        water=aroma.water_capacity(1000 * tub.m3_water, henry, known.kow, tub.oil_share),
        air=aroma.air_capacity(room.m3[:, None], room.celsius),
        film_air=aroma.film_to_air(gas, tub.film_m2, tub.celsius),
        water_air=aroma.through_water(both, tub.water_m2 - tub.film_m2, henry),
        film_water=aroma.through_water(water, tub.film_m2, henry),
        air_changes_s=room.changes_h[:, None] / 3600,
    )


def _moments(release: Release) -> Array:
    """Close together while it dissolves, then wider apart until the soak ends."""
    gone = max(release.gone_s.value, 1.0)
    end = max(SOAK_S, 1.25 * gone)
    return np.concatenate([np.linspace(0, gone, 16), np.linspace(gone, end, 33)[1:]])


def _released(mix: Mix, known: Vapours, release: Release, seconds: Array, pace: Array) -> Array:
    """Share of each scented line in the water by each moment; shape (times, draws, L)."""
    parts = [mix.lines[place].part for place in known.places]
    at = seconds[:, None] * pace
    by_part = {part: release.dissolved_at(part, at.ravel()).reshape(at.shape) for part in dict.fromkeys(parts)}
    return np.stack([by_part[part] for part in parts], axis=-1)


def _shares(known: Vapours, z: Array) -> Array:
    """Composition of each line in each draw, from the species range; shape (draws, L, K), the likely one first."""
    reach = np.where(z > 0, known.share_high - known.share, known.share - known.share_low)
    drawn = np.maximum(0.0, known.share + z / NORMAL_95 * reach)
    return np.asarray(drawn / np.maximum(1.0, drawn.sum(axis=-1, keepdims=True)))


def _normals(lines: int, constituents: int) -> tuple[Array, Array]:
    """Normals of the bath (draws, WIDE) and of the substances (draws, L + 2, K), each led by a row of zeros."""
    wide = np.vstack([np.zeros(WIDE), standard_normals(DRAWS, WIDE, 3)])
    fine = np.random.default_rng(5).standard_normal((DRAWS, lines + 2, constituents))
    return wide, np.concatenate([np.zeros((1, lines + 2, constituents)), fine])


def _grams(mix: Mix) -> Array:
    return np.vstack([mix.grams, np.take(mix.draws_g, range(DRAWS), axis=0, mode="wrap")])


def airing(mix: Mix, catalogue: Catalogue, size: Piece, release: Release) -> Air | None:
    """Follow the scent of one bath into the air; None when there is no scent whose fate could be reckoned."""
    dose = 1.0 if size.is_powder else size.pieces_per_bath
    per_bath_likely = size.piece_g.value * dose / size.total_g
    known = vapours(mix, catalogue, per_bath_likely)
    if known is None:
        return None
    wide, fine = _normals(len(known.places), len(known.entries))
    tub = bath(mix.recipe, catalogue)
    room = bathroom(mix.recipe.tub, catalogue, wide[:, 0:3])
    grams = _grams(mix)
    per_bath = np.append(
        per_bath_likely, np.take(size.piece_g_draws * dose / size.total_g_draws, range(DRAWS), mode="wrap")
    )
    film_g, film_mol, dispersed_g, rises = _oils(mix, per_bath, grams, wide[:, 3:5], known)
    litres = _spread((tub.litres_low, tub.litres, tub.litres_high), wide[:, 5])
    area = _spread(WATER_M2, wide[:, 6])
    cover = np.minimum(_spread(FILM_COVER, wide[:, 7]), 0.95) * area
    inside = _Bath(
        celsius=tub.temperature_c,
        m3_water=litres[:, None] / 1000,
        water_m2=area[:, None],
        film_m2=np.minimum(cover, film_g / OIL_G_M3 / FILM_THINNEST_M)[:, None],
        # a pressure below Raoult's is the same as a film of more moles
        film_mol=(film_mol / _spread(FILM_ACTIVITY, wide[:, 8]))[:, None],
        oil_share=(dispersed_g / OIL_G_M3)[:, None] / (litres[:, None] / 1000),
        film_share=rises[:, None],
        stirring=_spread(STIRRING_W_KG, wide[:, 9])[:, None],
        gas_factor=_spread(GAS_SIDE_FACTOR, wide[:, 10])[:, None],
    )
    seconds = _moments(release)
    gone = release.gone_s
    pace = (
        gone.value / _spread((gone.low, gone.value, gone.high), wide[:, 11]) if gone.value > 0 else np.ones(len(wide))
    )
    opened = _released(mix, known, release, seconds, pace)
    milligrams = 1000 * (per_bath[:, None] * grams[:, list(known.places)])[..., None] * _shares(known, fine[:, :-2])
    released = np.einsum("tdl,dlk->tdk", opened, milligrams)
    evaporation = known.doubt ** (fine[:, -2] / NORMAL_95)
    course = aroma.course(_boxes(known, inside, room, evaporation), seconds, released, inside.film_share)
    mg_m3 = np.maximum(course.air, 0.0) / room.m3[:, None]
    alike = NOSES_AGREE**0.5 * wide[:, 12, None] + (1 - NOSES_AGREE) ** 0.5 * fine[:, -1]
    nose = known.threshold_mg_m3 * (known.threshold_mg_m3 / known.threshold_low) ** (alike / NORMAL_95)
    activity = aroma.odour_activity(mg_m3, nose)
    exponents = _spread(EXPONENT, wide[:, 13])
    put_in = float(released[-1, 0].sum())
    likely = _Bath(inside.celsius, **{f.name: getattr(inside, f.name)[:1] for f in fields(inside)[1:]})
    return Air(
        vapours=known,
        room=room,
        seconds=seconds,
        mg_m3=mg_m3,
        activity=activity,
        strength=aroma.strength(activity, exponents),
        line_mg=milligrams[0],
        opened=opened[:, 0],
        inside=likely,
        response=_response(known, likely, room, seconds, opened[:, 0]),
        exponent=EXPONENT[1],
        per_bath=per_bath_likely,
        evaporated=1 - (course.water[-1, 1:] + course.film[-1, 1:]).sum(axis=-1) / released[-1, 1:].sum(axis=-1),
        stays_water=float(course.water[-1, 0].sum()) / put_in,
        stays_film=float(course.film[-1, 0].sum()) / put_in,
        sources=tub.sources,
    )


def _response(known: Vapours, inside: _Bath, room: Bathroom, seconds: Array, opened: Array) -> Array:
    """Likely mg/m3 for each milligram of each constituent in each line; shape (times, L, K)."""
    one = replace(room, m3=room.m3[:1], changes_h=room.changes_h[:1])
    boxes = _boxes(known, inside, one, np.ones((1, len(known.entries))))
    each = np.broadcast_to(opened[..., None], (*opened.shape, len(known.entries)))
    return np.maximum(aroma.course(boxes, seconds, each, inside.film_share).air, 0.0) / float(room.m3[0])


def elsewhere(air: Air, mix: Mix, catalogue: Catalogue, *, door: str, fan: str) -> Array:
    """The likely response (times, L, K) of the same bath with another door and fan."""
    tub = replace(mix.recipe.tub, door=door, fan=fan)
    room = bathroom(tub, catalogue, np.zeros((1, 3)))
    return _response(air.vapours, air.inside, room, air.seconds, air.opened)


def soak_mean(air: Air, values: Array) -> Array:
    """Mean over the soak of values whose first axis is time, straight between the moments."""
    spans = np.diff(air.seconds)
    return np.asarray(np.tensordot(spans, (values[1:] + values[:-1]) / 2, axes=1) / spans.sum())
