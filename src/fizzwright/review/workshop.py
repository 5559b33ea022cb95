"""Making it: what to have ready, and the steps in the order the materials ask for, each with its cautions."""

from __future__ import annotations

from collections.abc import Callable

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review import handling
from fizzwright.review.bench import (
    COOLER_THAN_FLASH_C,
    SHAKY_HAND_C,
    Bench,
    by_part,
    cool_to,
    fine_below_g,
    hottest_melt,
    ids,
    lay_out,
    names,
    part_word,
    ready,
)
from fizzwright.review.figures import Figure, Input, Notice, Section, Step, Working, sources_of
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import handled_name, handled_pieces
from fizzwright.wording import listed, sentence, shown


def section(mix: Mix, catalogue: Catalogue, setting: Setting) -> Section:
    """The steps, the things to have ready, and figures cool_below_c and batch_minutes where they can be told."""
    bench = lay_out(mix, catalogue)
    makers: tuple[Callable[[Bench], list[Step]], ...] = (
        _room, lambda b: _weigh(b, setting), _sieve, _colour, _melt, _scent, _oil, _fill, _foam, _squeeze, _acid, _bind, _press, _dry, _wrap,
    )  # fmt: skip
    steps = tuple(step for make in makers for step in make(bench))
    figures = [*_cool_below(bench), *_minutes(bench, setting)]
    return Section("making", "Making it", tuple(figures), tuple(_notices(bench)), steps, tuple(ready(bench, setting)))


def _room(bench: Bench) -> list[Step]:
    bowls = ""
    if len(bench.parts) > 1:
        words = listed(part_word(p) for p in bench.parts)
        bowls = f" Set out one bowl for each part ({words}) and do every mixing step once in each."
    materials = handling.of_lines(bench.mix.lines)
    gear = ["gloves", *(["mask", "goggles"] if any(handling.is_dusty(m) for m in materials) else [])]
    return [
        Step(
            "Make the room ready",
            f"Children and pets out, window open, dry table, dry hands; {listed(gear)} on. "
            f"Everything on the list within reach.{bowls}",
            cautions=tuple(handling.fumes(materials) if bench.acids else ()),
        )
    ]


def _weigh(bench: Bench, setting: Setting) -> list[Step]:
    limit = fine_below_g(setting.workshop.scale_step_g if setting.workshop else 1.0)
    small = any(m.grams < limit for m in bench.mix.lines)
    fine = f" All under {limit:g} g goes on the fine scale." if small else ""
    aside = f" Keep {names(bench.acids)} in a separate dry bowl." if bench.acids else ""
    text = f"Tick each line and note its lot.{fine}{aside}"
    return [Step("Weigh everything out", text, ids(bench.mix.lines))]


def _sieve(bench: Bench) -> list[Step]:
    lines = (*bench.base, *bench.fillers)
    if not lines:
        return []
    text = f"Sieve out the lumps: {by_part(bench, bench.base or lines)}."
    if bench.base and bench.fillers:
        text += f" Sieve {names(bench.fillers)} into another bowl and keep for later."
    cautions = handling.dust(handling.of_lines(lines), bench.catalogue)
    return [Step("Sieve the dry things", text, ids(lines), tuple(cautions))]


def _colour(bench: Bench) -> list[Step]:
    if not bench.colours:
        return []
    text = f"Rub the colour into the dry base until no speck shows: {by_part(bench, bench.colours)}."
    cautions = handling.dust(handling.of_lines(bench.colours), bench.catalogue)
    return [Step("Colour the dry base", text, ids(bench.colours), tuple(cautions))]


def _melt(bench: Bench) -> list[Step]:
    if not bench.melted:
        return []
    points = [
        f"{m.name} melts at about {m.material.melting_point_c:g} °C"
        for m in bench.melted
        if m.material is not None and m.material.melting_point_c is not None
    ]
    melts = f" {sentence(listed(points))}." if points else ""
    flash = bench.flash
    why = (
        f" {sentence(flash[1].name)} flashes at {flash[0]:g} °C, and warm fat drives the scent off."
        if flash
        else " Warmer than that it would start to break the bicarbonate down."
    )
    text = (
        f"Melt {by_part(bench, bench.melted)} in a jug standing in warm water.{melts} "
        f"Let it cool below {cool_to(bench):.0f} °C, still liquid, before anything else goes in.{why}"
    )
    cautions = handling.hot_fat(handling.of_lines(bench.melted))
    return [Step("Melt, then let it cool", text, ids(bench.melted), tuple(cautions))]


def _scent(bench: Bench) -> list[Step]:
    if not bench.scent:
        return []
    told = []
    for carrier in dict.fromkeys(m.line.diluted_in for m in bench.scent):
        lines = [m for m in bench.scent if m.line.diluted_in == carrier]
        into = next((m.name for m in bench.mix.lines if m.id == carrier), None)
        if into is None and (bench.melted or bench.oily):
            into = (*bench.oily, *bench.melted)[0].name
        where = f"into {into}" if into else "onto the dry base, drop by drop, rubbing each in"
        told.append(f"{by_part(bench, lines)} {where}")
    text = f"Stir the scent in: {'; '.join(told)}."
    title = "Add the scent to the oil" if bench.melted or bench.oily else "Add the scent"
    return [Step(title, text, ids(bench.scent), tuple(handling.scent(list(bench.scent))))]


def _oil(bench: Bench) -> list[Step]:
    lines = (*bench.melted, *bench.oily)
    if not lines:
        return []
    text = (
        f"Trickle it into the dry base a little at a time, stirring all the while: {by_part(bench, lines)}. "
        "Rub out the lumps between your fingers."
    )
    return [Step("Work the oil into the base", text, ids(lines, bench.scent))]


def _fill(bench: Bench) -> list[Step]:
    if not bench.fillers or not bench.base:
        return []
    text = f"Stir in {by_part(bench, bench.fillers)} until it looks even."
    return [Step("Add the fillers", text, ids(bench.fillers))]


def _foam(bench: Bench) -> list[Step]:
    if not bench.foam:
        return []
    text = (
        f"Fold in {by_part(bench, bench.foam)} slowly, with a spoon and not a whisk, "
        "now that the mix is damp enough to hold its dust."
    )
    cautions = handling.dust(handling.of_lines(bench.foam), bench.catalogue)
    return [Step("Fold in the foaming powder", text, ids(bench.foam), tuple(cautions))]


def _squeeze(bench: Bench) -> list[Step]:
    if bench.size.is_powder:
        return []
    then = "the spray will do the rest" if bench.binders else "work in a few drops more of the oil"
    dry = "filler" if bench.fillers else "base"
    return [
        Step(
            "Test by squeezing",
            f"Squeeze a handful: it should clump and show the lines of your fingers. If it falls to dust, {then}. "
            f"If it feels like wet sand or shines, stir in a spoon of dry {dry}.",
        )
    ]


def _acid(bench: Bench) -> list[Step]:
    if not bench.acids:
        return []
    text = (
        f"Last of all, stir in {by_part(bench, bench.acids)}. From here on any water starts the fizz: "
        "dry hands, and no pause."
    )
    materials = handling.of_lines(bench.acids)
    return [Step("Add the acid last", text, ids(bench.acids), tuple(handling.acid(materials)))]


def _bind(bench: Bench) -> list[Step]:
    if not bench.binders:
        return []
    materials = handling.of_lines(bench.binders)
    wet = [m for m in materials if m.water_mass_pct > 0]
    care = " It holds water, so any drop that lies still starts to fizz: finest mist, and stir at once." if wet else ""
    text = (
        f"Spray {by_part(bench, bench.binders)} one stroke at a time while the other hand stirs.{care} "
        "Stop as soon as a squeezed handful holds; you may not need it all."
    )
    cautions = handling.alcohol(materials, bench.catalogue)
    return [Step("Bind with a fine spray", text, ids(bench.binders), tuple(cautions))]


def _press(bench: Bench) -> list[Step]:
    if bench.size.is_powder:
        return []
    mould = bench.mix.mould
    name = mould.name.split(",")[0] if mould else "mould"
    halves = mould is not None and mould.halves
    parts = bench.parts
    steps = []
    if "core" in parts and "shell" in parts:
        text = "Press the core mix by hand into firm balls, one a piece, and let them stand for an hour."
        steps.append(Step("Press the core", text))
        text = f"Line the {name} with shell mix, lay the core in the middle, cover it with shell mix and press."
    elif len(parts) > 1:
        words = listed((part_word(p) for p in parts), "then")
        text = (
            f"Fill the {name} in order: {words}. Roughen each layer before the next, so that they hold together, "
            "and press once at the end."
        )
    else:
        text = f"Fill the {name} firmly, pushing into the edges first."
    if halves:
        text += (
            " Heap both halves a little over the rim, press them together without twisting, and hold for ten seconds."
        )
    steps.append(Step("Press", text))
    if mould is not None and mould.flexible:
        text = (
            "A flexible mould bends a fresh piece out of shape: leave it in for "
            f"{_hours(bench, 'cure_unmould')}, then peel the mould away."
        )
        steps.append(Step("Let it set in the mould", text))
    else:
        text = (
            "Tap the mould with a spoon, lift one side, turn the piece onto a dry cloth and lift the other. "
            "Left in a rigid mould it sticks."
        )
        steps.append(Step("Turn it out at once", text))
    return steps


def _hours(bench: Bench, fact_id: str) -> str:
    fact = bench.catalogue.fact(fact_id)
    low, typical, high = (shown(v) if v is not None else "?" for v in (fact.min, fact.typical, fact.max))
    unit = {"h": "hours", "d": "days"}.get(fact.unit, fact.unit)
    return f"about {typical} {unit} ({low} to {high})"


def _dry(bench: Bench) -> list[Step]:
    limit = bench.catalogue.fact("nahco3_decomp").typical
    hot = f" Never in an oven: bicarbonate starts to break down near {limit:g} °C." if limit else ""
    if bench.size.is_powder:
        text = f"Spread the powder thin on a tray in a dry room until it runs freely, then sieve it once more.{hot}"
        cautions = handling.dust(handling.of_lines((*bench.acids, *bench.fillers)), bench.catalogue)
        return [Step("Let it dry", text, cautions=tuple(cautions))]
    text = (
        "Stand the pieces on a dry cloth or rack, out of the bathroom, until they weigh no less: as a rule "
        f"{_hours(bench, 'cure_dry')}, sooner in dry air.{hot}"
    )
    return [Step("Let it dry", text)]


def _wrap(bench: Bench) -> list[Step]:
    if bench.size.is_powder:
        text = (
            "Dry jar, dry scoop. Close the lid loosely for the first days: damp powder makes gas. "
            f"Write {shown(bench.size.piece_g.value, 3)} g a bath on the label."
        )
        return [Step("Fill the jar", text)]
    text = (
        "Wrap when the weight no longer drops; before a tight wrap wait "
        f"{_hours(bench, 'cure_wrapwait')}, or the pack swells. Write the batch number on each."
    )
    return [Step("Wrap and label", text)]


def _cool_below(bench: Bench) -> list[Figure]:
    """The temperature the melted fat must fall below; none when nothing is melted."""
    if not bench.melted:
        return []
    flash = bench.flash
    inputs = [Input("warmest that spares the bicarbonate", SHAKY_HAND_C, "°C", "", "estimate")]
    sources = bench.catalogue.fact("nahco3_decomp").sources_of("")
    if flash:
        entry = flash[1].entry
        sources = sources_of(entry.sources_of("flash_point_c"), sources)
        cited = "; ".join(entry.sources_of("flash_point_c"))
        inputs += [
            Input(f"flash point of {flash[1].name}", flash[0], "°C", cited, entry.how_of("flash_point_c")),
            Input("kept below it", COOLER_THAN_FLASH_C, "°C", "", "estimate"),
        ]
    cool = cool_to(bench)
    return [
        Figure(
            "cool_below_c",
            cool,
            "°C",
            f"Let the melted fat cool below {cool:.0f} °C before scent and bicarbonate meet it.",
            Working("the lower of: flash point of the scent - margin, and what spares the bicarbonate", tuple(inputs)),
            sources=sources,
            range_kind="exact",
        )
    ]


def _minutes(bench: Bench, setting: Setting) -> list[Figure]:
    """Minutes at the bench by the workshop's own rates; none without them."""
    rates = setting.workshop.rates if setting.workshop else None
    if rates is None:
        return []
    pieces = handled_pieces(bench.size)
    value = rates.minutes_per_batch + rates.minutes_per_piece * pieces
    inputs = (
        Input("minutes a batch", rates.minutes_per_batch, "min", "workshop.toml"),
        Input("minutes a piece", rates.minutes_per_piece, "min", "workshop.toml"),
        Input(handled_name(bench.size), pieces, "", "the mould section"),
    )
    return [
        Figure(
            "batch_minutes",
            value,
            "min",
            f"By your own times the batch takes about {value:.0f} minutes at the bench, drying not counted.",
            Working("minutes = minutes a batch + minutes a piece x pieces", inputs),
            range_kind="exact",
        )
    ]


def _notices(bench: Bench) -> list[Notice]:
    """What this recipe in particular makes awkward; the standing cautions stay with their steps."""
    notices = []
    hottest = hottest_melt(bench)
    cool = cool_to(bench)
    if hottest and hottest[0] >= cool:
        point, line = hottest
        material = handling.of_lines([line])
        notices.append(
            Notice(
                "mind",
                f"{line.name} sets at about {point:g} °C, before it has cooled below {cool:.0f} °C.",
                "Stir the scent into another oil or rub it into the dry base instead, and add the warm fat by drops.",
                sources_of(*(m.sources_of("melting_point_c") for m in material)),
                figure="cool_below_c",
                line=line.id,
            )
        )
    watery = [m for m in bench.binders if m.material is not None and not m.material.alcohol_mass_pct]
    share = 100.0 * sum(m.grams for m in watery) / bench.size.total_g
    most = bench.catalogue.fact("binder_water")
    if watery and most.max is not None and share > most.max:
        notices.append(
            Notice(
                "mind",
                f"{names(watery)}: {shown(share)} % of the mix is a lot of watery binder; expect it to fizz in the bowl.",
                f"Compared with {most.name}: {most.min:g} to {most.max:g} % by mass (common practice, no source).",
                most.sources_of(""),
                line=watery[0].id,
            )
        )
    return notices
