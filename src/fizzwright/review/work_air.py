"""The work room's air while a batch is made: which alcohol the mix gives off, when, and what the air does with it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Fact, Material
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import sources_of
from fizzwright.review.room import Room
from fizzwright.review.sizes import UNKNOWN_BULK_DENSITY_G_ML, Piece, loose_density
from fizzwright.review.tap import Span, log_spread
from fizzwright.science import airborne
from fizzwright.science.airborne import MOLAR_MASS_G_MOL, QUARTER_H, SHIFT_H, Source
from fizzwright.science.sampling import standard_normals
from fizzwright.wording import listed

Array = NDArray[np.float64]

DRAWS = 32
WATCHED_H = 10.0
HOURS = WATCHED_H * np.linspace(0.0, 1.0, 49)[:, None] ** 2
"""A working day and a little more; the start, where it peaks, is watched closely."""
AT_ONCE: Span = (0.05, 0.15, 0.35)
"""estimate: share of sprayed alcohol that never lands, from a coarse pump spray to a fine mist from far off."""
SPRAY_G_MIN: Span = (3.0, 6.0, 12.0)
"""estimate: a squeeze every second or two of a sprayer that gives 0.1 to 0.2 g."""
WETNESS: Span = (0.3, 0.8, 2.0)
"""estimate: what the mix gives off against a still face of pure alcohol: damp crumbs give less, stirring more.
A weak alcohol such as witch hazel gives off less than this; it is reckoned as if it were strong."""
WIDER = 2.0
"""estimate: face of the mix against that of a half ball holding it; bowls are wide and crumbs heaped."""
DRYING_SPREAD: Span = (0.35, 1.0, 3.0)
"""estimate: how far the alcohol of a piece may leave sooner or later than reckoned, as a factor."""
BESIDE_BOWL_M: Span = (0.35, 0.5, 0.7)
"""estimate: half ball of air around bowl, hands and sprayer."""
AIR_CHANGES: Span = (0.6, 1.0, 1.6)
"""estimate: how well a maker knows the air changes of their room, as a factor."""
TIGHTEST_H = 0.01
"""Air changes an hour of a room said to have none: no room is that tight."""


@dataclass(frozen=True)
class Limits:
    """What one alcohol is compared with, in ppm."""

    name: str
    shift: Fact
    quarter: Fact
    shift_ppm: float
    quarter_ppm: float
    flammable: Fact
    flammable_ppm: float


def _held(value: float | None, fact: Fact) -> float:
    if value is None:
        raise ValueError(f"the catalogue's fact {fact.id} lacks a figure that the work room is compared with")
    return value


def _limits(kind: str, catalogue: Catalogue) -> Limits:
    """The strictest levels held for that alcohol over a shift and over a quarter of an hour."""
    if kind == "isopropyl":
        both, lower = catalogue.fact("ipa_acgih"), catalogue.fact("ipa_lel")
        return Limits(
            "isopropyl alcohol",
            both,
            both,
            _held(both.typical, both),
            _held(both.max, both),
            lower,
            1e4 * _held(lower.typical, lower),
        )
    shift, quarter, lower = (catalogue.fact(i) for i in ("etoh_osha", "etoh_stel", "etoh_lel"))
    return Limits(
        "ethanol",
        shift,
        quarter,
        _held(shift.max, shift),
        _held(quarter.max, quarter),
        lower,
        1e4 * _held(lower.min, lower),
    )


def kind_of(material: Material) -> str:
    """Which alcohol a material gives off: isopropyl where its names say so, else ethanol."""
    told = " ".join((material.id, material.name, material.inci)).lower()
    return "isopropyl" if "isoprop" in told or "propan-2" in told else "ethanol"


def alcohol_g(mix: Mix) -> dict[str, tuple[float, Array]]:
    """Grams of each alcohol in the whole mix: likely, and in the mix's draws; empty when it holds none."""
    found: dict[str, tuple[float, Array]] = {}
    for place, line in enumerate(mix.lines):
        material = line.material
        if material is None or material.alcohol_mass_pct <= 0 or mix.grams[place] <= 0:
            continue
        share, kind = material.alcohol_mass_pct / 100.0, kind_of(material)
        likely, draws = found.get(kind, (0.0, np.zeros(len(mix.draws_g))))
        found[kind] = (likely + share * float(mix.grams[place]), draws + share * mix.draws_g[:, place])
    return found


@dataclass(frozen=True)
class WorkAir:
    """The room's air while this batch is made; arrays hold the likely case first, then draws."""

    room: Room
    limits: dict[str, Limits]
    grams: dict[str, Array]
    spray_h: Array
    work_h: float
    at_once: Array
    bowl_share: dict[str, Array]
    drying_h: Array
    shut_h: Array
    open_h: Array
    beside_m3_h: Array
    flashes: tuple[str, ...]
    """What in the mix gives off enough at this room's temperature for a flame to light it right over the wet."""

    def sources(self, kind: str) -> tuple[Source, ...]:
        """Spray that never lands, what leaves the bowl while it is worked, what the pieces lose as they dry."""
        grams = self.grams[kind]
        landed = grams * (1.0 - self.at_once)
        bowl = landed * self.bowl_share[kind]
        return (
            Source(grams * self.at_once, self.spray_h),
            Source(bowl, self.work_h),
            Source(landed - bowl, self.drying_h, self.work_h / 2.0, is_falling=True),
        )

    def _ppm(self, kind: str, mg_m3: Array) -> Array:
        return airborne.ppm_of(mg_m3, MOLAR_MASS_G_MOL[kind], self.room.room_c, self.room.pressure_pa)

    @cached_property
    def hours(self) -> Array:
        """The moments looked at, shape (times, 1): with those at which spraying and work end, as it peaks at one of them."""
        return np.unique([*HOURS[:, 0], float(self.spray_h[0]), self.work_h])[:, None]

    def course_ppm(self, kind: str, changes_h: Array) -> Array:
        """Shape (times, draws)."""
        return self._ppm(kind, airborne.room_mg_m3(self.sources(kind), self.hours, self.room.volume_m3, changes_h))

    def shift_ppm(self, kind: str, changes_h: Array) -> Array:
        """Average over a working day with this one batch in it."""
        mean = airborne.mean_mg_m3(self.sources(kind), 0.0, SHIFT_H, self.room.volume_m3, changes_h)
        return self._ppm(kind, mean)

    def quarter_ppm(self, kind: str, changes_h: Array) -> Array:
        """The worst quarter of an hour."""
        means = airborne.mean_mg_m3(self.sources(kind), self.hours, QUARTER_H, self.room.volume_m3, changes_h)
        return self._ppm(kind, means.max(axis=0))

    def near_ppm(self, kind: str, changes_h: Array) -> Array:
        """At the bowl, as the last spray goes on or as the last piece is pressed, whichever is more."""
        sources = self.sources(kind)
        moments = 0.999 * np.stack([self.spray_h, np.full_like(self.spray_h, self.work_h)])
        far = airborne.room_mg_m3(sources, moments, self.room.volume_m3, changes_h)
        rate = sum((s.rate_g_h(moments) for s in sources[:2]), np.zeros(()))
        return self._ppm(kind, airborne.near_mg_m3(far, rate, self.beside_m3_h).max(axis=0))

    def share_of_limits(self, changes_h: Array) -> Array:
        """Levels over the strictest limits held, alcohols added up: the worse of shift and quarter of an hour."""
        shift = sum((self.shift_ppm(k, changes_h) / v.shift_ppm for k, v in self.limits.items()), np.zeros(()))
        quarter = sum((self.quarter_ppm(k, changes_h) / v.quarter_ppm for k, v in self.limits.items()), np.zeros(()))
        return np.asarray(np.maximum(shift, quarter))

    def highest_ppm(self, changes_h: Array) -> Array:
        """The most of all alcohols together, looked for where it peaks: as the spraying or the work ends; shape (draws,)."""
        ends = np.stack([self.spray_h, np.full_like(self.spray_h, self.work_h)])
        each = (
            self._ppm(kind, airborne.room_mg_m3(self.sources(kind), ends, self.room.volume_m3, changes_h))
            for kind in self.grams
        )
        return np.asarray(sum(each, np.zeros(())).max(axis=0))

    @cached_property
    def shut(self) -> Array:
        """All alcohols together with the window shut; shape (times, draws)."""
        return np.asarray(sum((self.course_ppm(k, self.shut_h) for k in self.grams), np.zeros(())))

    @cached_property
    def aired(self) -> Array:
        """The same with the window a hand's width open."""
        return np.asarray(sum((self.course_ppm(k, self.open_h) for k in self.grams), np.zeros(())))

    @cached_property
    def flammable_share(self) -> Array:
        """Highest share of the lower flammable limit in the shut room (Le Chatelier's sum over the alcohols)."""
        shares = (self.course_ppm(k, self.shut_h) / v.flammable_ppm for k, v in self.limits.items())
        return np.asarray(sum(shares, np.zeros(())).max(axis=0))

    @cached_property
    def window_cm(self) -> Array:
        """How far to open the window so that no limit held is passed; inf where no window does it."""
        if np.all(self.share_of_limits(self.shut_h) <= 1.0):
            return np.zeros_like(self.shut_h)
        wanted = airborne.least_air_changes(lambda n: self.share_of_limits(n) > 1.0, self.shut_h, steps=16)
        return airborne.opening_cm(wanted, self.shut_h, self.open_h)

    @property
    def names(self) -> str:
        """The alcohols as a sentence names them."""
        return listed(limits.name for limits in self.limits.values())

    @property
    def citations(self) -> tuple[str, ...]:
        """Of the levels compared with."""
        rows = [row for v in self.limits.values() for row in (v.shift, v.quarter, v.flammable)]
        return sources_of(*(row.sources_of("") for row in rows))


def bowl_m2(mix: Mix) -> float:
    """Open face of the mix lying loose in its bowl, m2."""
    density = loose_density(mix)
    volume_m3 = 1e-6 * float(mix.grams.sum()) / (density if np.isfinite(density) else UNKNOWN_BULK_DENSITY_G_ML)
    return float(WIDER * np.pi * np.cbrt(3.0 * volume_m3 / (2.0 * np.pi)) ** 2)


def work_air(
    mix: Mix, catalogue: Catalogue, size: Piece, room: Room, drying_h: float, z: Array | None = None
) -> WorkAir | None:
    """The room's air while this batch is made, or None when the mix gives off no alcohol.

    drying_h: time constant of pressed pieces losing their alcohol, hours. z: doubts of the room, (draws, 7), one row for
    each of the mix's draws, when all of those are wanted and no likely case before them.
    """
    held = alcohol_g(mix)
    if not held:
        return None
    gives_off = {
        m.material.id: m.material for m in mix.lines if m.material and m.material.alcohol_mass_pct > 0
    }.values()
    if z is None:
        z = np.vstack([np.zeros(7), standard_normals(DRAWS - 1, 7)])
        step = max(len(mix.draws_g) // (DRAWS - 1), 1)
        grams = {kind: np.array([likely, *draws[::step][: DRAWS - 1]]) for kind, (likely, draws) in held.items()}
    else:
        grams = {kind: draws for kind, (_, draws) in held.items()}
    total = np.asarray(sum(grams.values(), np.zeros(())))
    spray_h = total / log_spread(SPRAY_G_MIN, z[:, 0]) / 60.0
    work_h = room.pace.minutes(size) / 60.0
    face_m2 = bowl_m2(mix)
    wet = log_spread(WETNESS, z[:, 1])
    at_once = np.minimum(log_spread(AT_ONCE, z[:, 2]), 1.0)
    bowl = {
        kind: -np.expm1(-airborne.evaporation_g_h(kind, face_m2, room.room_c, wet) * work_h / (total * (1.0 - at_once)))
        for kind in grams
    }
    speed = catalogue.fact("air_speed_indoors")
    span = (_held(speed.min, speed), _held(speed.typical, speed), _held(speed.max, speed))
    factor, shut_h = log_spread(AIR_CHANGES, z[:, 3]), max(room.air_changes_shut, TIGHTEST_H)
    return WorkAir(
        room,
        {kind: _limits(kind, catalogue) for kind in grams},
        grams,
        np.maximum(spray_h, 1.0 / 60.0),
        work_h,
        at_once,
        bowl,
        drying_h * log_spread(DRYING_SPREAD, z[:, 4]),
        shut_h * factor,
        # a window that lets in no more than the cracks do is none; this keeps the sum of the opening finite
        max(room.air_changes_open, 1.1 * shut_h) * factor,
        airborne.exchange_m3_h(log_spread(BESIDE_BOWL_M, z[:, 5]), log_spread(span, z[:, 6])),
        tuple(m.name for m in gives_off if m.flash_point_c is not None and m.flash_point_c <= room.room_c),
    )
