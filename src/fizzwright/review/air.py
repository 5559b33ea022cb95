"""In the air: how the scent of one bath rises and fades in its room, and whether that is too much for it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Constituent
from fizzwright.recipe.mix import Mix
from fizzwright.review import air_notices, blend, dissolving
from fizzwright.review.airing import FILM_ACTIVITY, STIRRING_W_KG, WATER_M2, Air, airing, elsewhere, soak_mean
from fizzwright.review.figures import Curve, Figure, Input, Notice, Section, Working, interval, sources_of
from fizzwright.review.release import Release
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, piece
from fizzwright.review.vapours import CLASSES
from fizzwright.science import aroma, transfer
from fizzwright.wording import listed, shown

Array = NDArray[np.float64]

SHOWN_SHARE = 0.01
SHOWN_GUIDE = 0.01
"""A constituent is told of from one percent of the scent, or of its guide value, or when it is smelt."""
SHOWN_CURVES = 8
FAINTEST = 1e-3
"""Odour activities below a thousandth are drawn as that, for a logarithmic scale has no nothing."""
GUIDE_WORDS = "guide values are set for living in a room, so a soak only borrows them"
LEVELS = {"faint": 3.0, "clear": 5.0, "strong": 8.0}


def section(mix: Mix, catalogue: Catalogue, setting: Setting) -> Section:
    """How the scent of one bath rises and fades; bare when nothing in the mix is scented."""
    size = piece(mix, catalogue)
    release = dissolving.release(mix, catalogue, setting, size)
    found, notices, curves = figures(mix, catalogue, setting, size, release)
    tables = blend.tables(blend.blend(mix, catalogue, setting, size, release))
    return Section("air", "In the air", tuple(found), tuple(notices), curves=tuple(curves), tables=tables)


def figures(
    mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece, release: Release
) -> tuple[list[Figure], list[Notice], list[Curve]]:
    """Figures, notices and curves of the scent in the room; all empty when nothing is scented."""
    air = airing(mix, catalogue, size, release)
    if air is None:
        return [], air_notices.nothing_known(mix), []
    rooms = {
        f"door {door}, fan {fan}": elsewhere(air, mix, catalogue, door=door, fan=fan)
        for door, fan in (("ajar", "off"), ("shut", "on"))
        if (door, fan) != (mix.recipe.tub.door or "shut", mix.recipe.tub.fan or "off")
    }
    found = [
        _intensity(air),
        _to_peak(air),
        _total(air),
        *_constituents(air),
        *_guides(air),
        _fate(air),
        _left_out(air),
    ]
    return found, air_notices.advise(air, mix, rooms), _curves(air, rooms)


def _ranged(value: float, draws: Array) -> tuple[float, float]:
    """The 90 % interval, widened to hold the likely value where a lopsided spread would leave it outside."""
    low, high = interval(draws)
    return min(low, value), max(high, value)


def _room_inputs(air: Air) -> tuple[Input, ...]:
    return (
        Input("air in the room", float(air.room.m3[0]), "m3", "; ".join(air.room.sources)),
        Input("air changes", float(air.room.changes_h[0]), "per hour", "; ".join(air.room.sources)),
        Input("bath", air.inside.celsius, "°C", "; ".join(air.sources)),
        Input("scent that rises as a film", 100 * float(air.inside.film_share[0, 0]), "%", "", "estimate"),
        Input("film on the water", float(air.inside.film_m2[0, 0]), "m2", "", "estimate"),
        Input("surface of the water", WATER_M2[1], "m2", "", "estimate"),
        Input("stirring of the water", STIRRING_W_KG[1], "W/kg", "", "estimate"),
        Input("activity of scent in the film", FILM_ACTIVITY[1], "", "", "estimate"),
    )


def _intensity(air: Air) -> Figure:
    peaks = np.minimum(aroma.MOST_INTENSE, air.strength.max(axis=0))
    value = float(peaks[0])
    low, high = _ranged(value, peaks[1:])
    at = int(air.strength[:, 0].argmax())
    strongest = np.argsort(-air.activity[at, 0])[:3]
    names = [air.vapours.entries[k] for k in strongest if air.activity[at, 0, k] >= 0.1 * air.activity[at, 0].max()]
    return Figure(
        "intensity_0_10",
        value,
        "of 10",
        f"At its height the scent is {air_notices.word(value)} in this room ({air.room.said}). "
        f"What is smelt most: {listed(n.name for n in names)}. The nose tires of it within minutes."
        + (
            f" {shown(100 * air.vapours.left_out_share)} % of the scent could not be reckoned with, so it may be stronger."
            if air.vapours.left_out_share > air_notices.MUCH_LEFT_OUT
            else ""
        ),
        Working(
            aroma.EQUATIONS["intensity"],
            (
                Input("Stevens' exponent", air.exponent, "", "", "estimate"),
                *(
                    Input(f"odour activity of {air.vapours.entries[k].name}", float(air.activity[at, 0, k]), "times")
                    for k in strongest
                ),
                *_room_inputs(air),
            ),
        ),
        low,
        high,
        sources_of(*(n.sources_of("odour_threshold_air_typical_mg_m3") for n in names), air.room.sources),
    )


def _to_peak(air: Air) -> Figure:
    minutes = air.seconds / 60
    at = air.strength.argmax(axis=0)
    value = float(minutes[at[0]])
    low, high = _ranged(value, minutes[at[1:]])
    return Figure(
        "minutes_to_peak",
        value,
        "min",
        f"The scent is still rising when the soak ends, after {shown(value)} minutes."
        if air.still_rising
        else f"The scent is strongest {shown(value)} minutes after it goes in.",
        Working(aroma.EQUATIONS["course"], _room_inputs(air)),
        low,
        high,
        air.room.sources,
    )


def _total(air: Air) -> Figure:
    peaks = air.mg_m3.sum(axis=-1).max(axis=0)
    value = float(peaks[0])
    return Figure(
        "total_peak_mg_m3",
        value,
        "mg/m3",
        f"The air holds at most {shown(value)} mg of scent in a cubic metre, from {shown(float(air.line_mg.sum()))} mg in "
        "the bath.",
        Working(
            aroma.EQUATIONS["course"],
            (Input("scent in one bath", float(air.line_mg.sum()), "mg"), *_room_inputs(air)),
        ),
        *_ranged(value, peaks[1:]),
        air.room.sources,
    )


def _told(air: Air) -> list[int]:
    """Constituents worth a figure, strongest smelt first."""
    known = air.vapours
    milligrams = air.line_mg.sum(axis=0)
    peak = air.activity[:, 0].max(axis=0)
    guided = air.mg_m3[:, 0].max(axis=0) >= SHOWN_GUIDE * known.guide_mg_m3
    worth = (milligrams >= SHOWN_SHARE * milligrams.sum()) | (peak >= 1) | guided
    return [int(k) for k in np.argsort(-peak) if worth[k] and milligrams[k] > 0]


def _inputs(air: Air, k: int) -> tuple[Input, ...]:
    known, entry = air.vapours, air.vapours.entries[k]

    def held(name: str, value: float, unit: str, field: str) -> Input:
        own = getattr(entry, field) is not None
        return Input(
            name,
            value,
            unit,
            "; ".join(entry.sources_of(field)) if own else "",
            entry.how_of(field) if own else "estimate",
        )

    return (
        Input(f"{entry.name} in one bath", float(air.line_mg[:, k].sum()), "mg"),
        held("molar mass", float(known.molar_mass_g_mol[k]), "g/mol", "molar_mass_g_mol"),
        held("vapour pressure at 25 °C", float(known.vapour_pressure_pa[k]), "Pa", "vapour_pressure_pa_25c"),
        held("Henry constant at 25 °C", float(known.henry_pa_m3_mol[k]), "Pa m3/mol", "henry_pa_m3_mol"),
        held("rise of solubility with 1/T", float(known.slope_k[k]), "K", "henry_dln_dinvT_k"),
        held("log Kow", float(np.log10(known.kow[k])), "", "logp"),
        *_room_inputs(air),
    )


def _physical_sources(entry: Constituent) -> tuple[str, ...]:
    return sources_of(*(entry.sources_of(f) for f in ("vapour_pressure_pa_25c", "henry_pa_m3_mol", "logp")))


def _constituents(air: Air) -> list[Figure]:
    found = []
    known = air.vapours
    for k in _told(air):
        entry = known.entries[k]
        peaks = air.mg_m3[:, :, k].max(axis=0)
        value = float(peaks[0])
        how = " How readily it evaporates is an estimate by its family." if known.guessed[k] else ""
        found.append(
            Figure(
                f"peak_mg_m3.{entry.id}",
                value,
                "mg/m3",
                f"The air holds at most {shown(value)} mg of {entry.name} in a cubic metre.{how}",
                Working(
                    "; ".join(
                        (
                            aroma.EQUATIONS["course"],
                            aroma.EQUATIONS["film_capacity"],
                            aroma.EQUATIONS["water_capacity"],
                            transfer.EQUATIONS["overall_m_s"],
                        )
                    ),
                    _inputs(air, k),
                ),
                *_ranged(value, peaks[1:]),
                _physical_sources(entry),
            )
        )
        times = air.activity[:, :, k].max(axis=0)
        activity = float(times[0])
        nose = " (a threshold estimated by its family, good to a factor of ten)" if known.guessed_nose[k] else ""
        found.append(
            Figure(
                f"odour_activity.{entry.id}",
                activity,
                "times its odour threshold",
                f"At its height {entry.name} stands at {shown(activity)} times the level where noses notice it{nose}.",
                Working(
                    aroma.EQUATIONS["odour_activity"],
                    (
                        Input("highest concentration", value, "mg/m3"),
                        Input(
                            "odour threshold",
                            float(known.threshold_mg_m3[k]),
                            "mg/m3",
                            "" if nose else "; ".join(entry.sources_of("odour_threshold_air_typical_mg_m3")),
                            "estimate" if nose else entry.how_of("odour_threshold_air_typical_mg_m3"),
                        ),
                    ),
                ),
                *_ranged(activity, times[1:]),
                () if nose else entry.sources_of("odour_threshold_air_typical_mg_m3"),
            )
        )
    return found


def _guide_figure(air: Air, id_: str, name: str, members: list[int]) -> Figure:
    guide = float(air.vapours.guide_mg_m3[members[0]])
    lead = air.vapours.entries[members[0]]
    means = soak_mean(air, air.mg_m3[:, :, members].sum(axis=-1)) / guide
    value = float(means[0])
    field = "inhalation_irritation_reference_mg_m3"
    how = lead.how_of(field)
    said = " (from memory)" if how == "memory" else ""
    return Figure(
        f"guide_share.{id_}",
        value,
        "times the guide value",
        f"Over the soak {name} comes to {shown(value)} times the indoor guide value of {shown(guide)} mg/m3{said}; "
        f"{GUIDE_WORDS}.",
        Working(
            "share = mean concentration over the soak / guide value",
            (
                Input("mean over the soak", value * guide, "mg/m3"),
                Input("guide value", guide, "mg/m3", "; ".join(lead.sources_of(field)), how),
            ),
        ),
        *_ranged(value, means[1:]),
        lead.sources_of(field),
    )


def _guides(air: Air) -> list[Figure]:
    """Each constituent beside its guide value, and each group of them where the value is set for the sum."""
    found = []
    told = set(_told(air))
    for name, members in air.vapours.groups().items():
        if len(members) > 1:
            slug = "".join(c if c.isalnum() else "_" for c in name).strip("_").replace("__", "_")
            found.append(_guide_figure(air, slug, f"the sum of {name}", members))
        found += [
            _guide_figure(air, air.vapours.entries[k].id, air.vapours.entries[k].name, [k])
            for k in members
            if k in told
        ]
    return found


def _fate(air: Air) -> Figure:
    stays = air.stays_water + air.stays_film
    value = 100 * (1 - stays)
    return Figure(
        "evaporated_pct",
        value,
        "% of the scent",
        f"By the end of the soak {shown(value)} % of the scent has gone into the air; {shown(100 * air.stays_water)} % is "
        f"in the water and {shown(100 * air.stays_film)} % floats on it. What skin and walls take up is not counted.",
        Working(
            aroma.EQUATIONS["course"],
            (Input("scent in one bath", float(air.line_mg.sum()), "mg"), *_room_inputs(air)),
        ),
        *_ranged(value, 100 * air.evaporated),
        air.room.sources,
    )


def _left_out(air: Air) -> Figure:
    value = 100 * air.vapours.left_out_share
    guessed = 100 * float(air.line_mg[:, air.vapours.guessed].sum() / air.line_mg.sum())
    return Figure(
        "left_out_pct",
        value,
        "% of the scent",
        f"{shown(value)} % of the scent is left out here, as nothing is known of it that could be reckoned with, or it is a "
        f"trace; {shown(guessed)} % of what is counted goes by estimates for its chemical family.",
        Working(
            "left out = 100 - sum of the constituents counted, by mass",
            (Input("counted", 100 - value, "% of the scent"),),
        ),
    )


def _rounded(values: Array) -> tuple[float, ...]:
    return tuple(float(f"{value:.4g}") for value in values)


def _curves(air: Air, rooms: dict[str, Array]) -> list[Curve]:
    known = air.vapours
    minutes = _rounded(air.seconds / 60)
    activity = air.activity[:, 0]
    strongest = [int(k) for k in np.argsort(-activity.max(axis=0))[:SHOWN_CURVES]]
    first = known.entries[strongest[0]].name
    smelt = int((activity.max(axis=0) >= 1).sum())
    beyond = f"{smelt} pass their thresholds" if smelt > 1 else f"{'one' if smelt else 'none'} passes its threshold"
    strength = np.minimum(aroma.MOST_INTENSE, air.strength[:, 0])
    peak = air.seconds[int(air.strength[:, 0].argmax())] / 60
    highest = shown(float(strength.max()))
    lines = {air.room.said: _rounded(strength)}
    for said, response in rooms.items():
        other = np.minimum(aroma.MOST_INTENSE, air.strength_of(air.likely(response=response)))
        lines[said] = _rounded(other)
    curves = [
        Curve(
            "scent_strength",
            f"The scent rises to {highest} of 10 by the end of the soak"
            if air.still_rising
            else f"The scent peaks at {highest} of 10 after {shown(peak)} minutes",
            "time",
            "min",
            "strength",
            "of 10",
            minutes,
            lines,
            levels=LEVELS,
        ),
        Curve(
            "odour_activity",
            f"Of all in the air {first} is smelt most; {beyond}",
            "time",
            "min",
            "odour activity",
            "times its threshold",
            minutes,
            {known.entries[k].name: _rounded(np.maximum(FAINTEST, activity[:, k])) for k in strongest},
            levels={"smelt from here": 1.0},
            is_log=True,
        ),
        _notes(air, minutes),
    ]
    groups = known.groups()
    if groups:
        shares = {
            name: air.mg_m3[:, 0, members].sum(axis=-1) / known.guide_mg_m3[members[0]]
            for name, members in groups.items()
        }
        nearest = max(shares, key=lambda name: float(shares[name].max()))
        curves.append(
            Curve(
                "guide_share",
                f"Nearest its guide value for living in a room for long: {nearest}, at most {shown(float(shares[nearest].max()))} times it",
                "time",
                "min",
                "concentration",
                "times the guide value",
                minutes,
                {name: _rounded(values) for name, values in shares.items()},
                levels={"guide value": 1.0},
            )
        )
    return curves


def _notes(air: Air, minutes: tuple[float, ...]) -> Curve:
    """Shares of top, middle and base in what is smelt."""
    # nothing is in the air at the very start, so what comes first stands for it
    activity = np.vstack([air.activity[1:2, 0], air.activity[1:, 0]])
    whole = activity.sum(axis=-1)
    shares = {}
    for kind in CLASSES:
        members = [k for k, of in enumerate(air.vapours.kind) if of == kind]
        shares[kind] = 100 * np.divide(
            activity[:, members].sum(axis=-1), whole, out=np.zeros_like(whole), where=whole > 0
        )
    start, end = (max(CLASSES, key=lambda kind: float(shares[kind][i])) for i in (0, -1))
    return Curve(
        "notes",
        f"It opens on {start} notes and stays there"
        if start == end
        else f"It opens on {start} notes and ends on {end} ones",
        "time",
        "min",
        "share of what is smelt",
        "%",
        minutes,
        {kind: _rounded(values) for kind, values in shares.items()},
    )
