"""What the water's pH and its gas mean for the bather, in calm words."""

from __future__ import annotations

from collections.abc import Sequence

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.airing import SOAK_S
from fizzwright.review.figures import Figure, Notice, sources_of
from fizzwright.science.aqueous import DOSES
from fizzwright.science.equilibrium import MOST_MMOL_L
from fizzwright.wording import duration_text, listed, number_text, shown

ALKALINE_ABOVE = 9.0
"""estimate: between tap water, at most about 8.5, and a solution of soap, 9.5 to 10."""
PPM = 1e6
LITRES_M3 = 1000.0


def notices_of(mix: Mix, catalogue: Catalogue, soak_ph: tuple[float, float], figures: Sequence[Figure]) -> list[Notice]:
    """What is said about the water: soak_ph is its lowest and highest pH from the first fizz to the end of a soak."""
    return [*_skin(catalogue, soak_ph), *_gas(mix, catalogue, figures), *_left_out(mix)]


def _skin(catalogue: Catalogue, soak_ph: tuple[float, float]) -> list[Notice]:
    skin, rise, tap = (catalogue.fact(x) for x in ("skin_ph", "skin_ph_water", "tap_pH"))
    low, high = soak_ph
    least, most = skin.min or 0.0, skin.max or 0.0
    span = f"pH {low:.1f}" if high - low < 0.05 else f"pH {low:.1f} to {high:.1f}"
    compared = (
        f"Compared: the water's pH over {duration_text(SOAK_S)} with the skin's surface, {shown(least)} to {shown(most)} "
        f"(average {shown(skin.typical or 0.0)}), and with tap water, {shown(tap.min or 0.0)} to {shown(tap.max or 0.0)}; "
        f"plain tap water raised the skin's pH by {shown(rise.typical or 0.0)} in one study (all from memory). "
        "A figure to know, no promise to any skin: ask a clinician about sore or broken skin."
    )
    sources = sources_of(skin.sources_of("typical"), rise.sources_of("typical"), tap.sources_of("typical"))
    if low < least:
        text = f"The bath is sour, down to {span[: len(span)]}: more acid than the skin's own surface. It can sting."
        return [Notice("mind", text, compared, sources, "ph_dissolved")]
    if high > ALKALINE_ABOVE:
        text = f"The bath is alkaline, {span}: nearer to soapy water than to tap water. It can dry and sting."
        return [Notice("mind", text, compared, sources, "ph_dissolved")]
    if high <= (tap.max or 0.0) and low >= (tap.min or 0.0) - 0.5:
        near = "much as tap water is"
    else:
        near = (
            "between tap water and soapy water" if high > (tap.max or 0.0) else "between tap water and the skin's own"
        )
    return [
        Notice(
            "good",
            f"The bath stays at {span}, {near}; skin's own surface is more acid.",
            compared,
            sources,
            "ph_dissolved",
        )
    ]


def _gas(mix: Mix, catalogue: Catalogue, figures: Sequence[Figure]) -> list[Notice]:
    """Carbon dioxide in the bathroom, if it all stayed there, beside the limits of workplaces."""
    litres = next(f for f in figures if f.id == "co2_in_soak_l")
    worst = float(litres.high or 0.0)
    limit, volume = catalogue.fact("co2_twa"), catalogue.fact("room_volume")
    room_m3 = mix.recipe.tub.room_m3 or volume.typical
    if not room_m3 or limit.max is None or worst <= 0:
        return []
    ppm = worst / (room_m3 * LITRES_M3) * PPM
    compared = (
        f"Compared: at most {number_text(worst)} litres by the end of a soak in {shown(room_m3, 3)} m³ of air without any "
        f"change of air, {number_text(ppm)} ppm on top of what is there, with {limit.name}, {number_text(limit.max)} ppm."
    )
    sources = sources_of(limit.sources_of("max"), () if mix.recipe.tub.room_m3 else volume.sources_of("typical"))
    if ppm > limit.max:
        text = "So much carbon dioxide may gather in this room that the air feels close. Leave the door ajar or run the fan."
        return [Notice("mind", text, compared, sources, "co2_in_soak_l")]
    text = "The carbon dioxide of the fizz stays below the limit for a working day, even in a shut room."
    return [Notice("good", text, compared, sources, "co2_in_soak_l")]


def _left_out(mix: Mix) -> list[Notice]:
    """Acids and bases whose constants are not held here: the pH leaves them out."""
    missing = [
        m for m in mix.lines if m.material is not None and m.material.function in ("acid", "base") and m.id not in DOSES
    ]
    if not missing:
        return []
    return [
        Notice(
            "mind",
            f"The water's pH is worked out without {listed(m.name for m in missing)}: how strongly that acts is not held here.",
            "Only acids and bases with known constants enter the balance of the water; test the bath with a strip.",
            figure="ph_dissolved",
            line=missing[0].id,
        )
    ]


def too_strong(litres: float) -> Notice:
    """That so much in so little water is beyond what the equations hold for."""
    return Notice(
        "mind",
        f"What the water becomes was not worked out: so much in {shown(litres, 3)} litres would not all dissolve. More water, or "
        "fewer pieces a bath?",
        f"Compared: what one bath brings of each salt with {MOST_MMOL_L / 1000:g} mol a litre, about where bicarbonate stops dissolving "
        "and far beyond where the equations for a bath hold.",
    )
