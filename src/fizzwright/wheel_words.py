"""What `fizzwright oil choose` and `fizzwright oil wheel` print for eyes."""

from __future__ import annotations

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from fizzwright.catalogue import Catalogue
from fizzwright.design.choosing import VERDICTS, Choice, Chosen
from fizzwright.design.choosing_words import DEFER, asked_words, first_word, mark, piece_words, stock_words
from fizzwright.design.wheel import ABSENT, Blend, Ring
from fizzwright.wording import listed, sentence, shown

BAR = 30
"""Characters of the longest bar."""


def _console() -> Console:
    return Console(highlight=False, markup=False, emoji=False)


def show_chosen(chosen: Chosen, why: tuple[str, ...]) -> None:
    """Print the list, best first, or all that is known of the oils asked about."""
    console = _console()
    console.print(Text(asked_words(chosen), style="bold"))
    console.print(piece_words(chosen))
    if why:
        for choice in chosen.choices:
            if choice.oil in why:
                _show_one(console, choice, chosen.currency)
    elif not chosen.choices:
        console.print("No oil held here smells of that.")
    else:
        _show_list(console, chosen)
    if chosen.passed_over:
        console.print(f"{chosen.passed_over} oils were left out as they do not smell {chosen.wish}.")
    console.print(Text(DEFER, style="dim"))


def _show_list(console: Console, chosen: Chosen) -> None:
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    table.add_column("Oil", overflow="fold")
    table.add_column("Most %", justify="right", no_wrap=True)
    table.add_column("Drops", justify="right", no_wrap=True)
    table.add_column("Smells", overflow="fold")
    table.add_column("Read this first", overflow="fold")
    for verdict in VERDICTS:
        group = [choice for choice in chosen.choices if choice.verdict == verdict]
        if group:
            table.add_row(Text(f"{mark(verdict)} {sentence(verdict)}", style="bold"))
        for choice in group:
            smells = ", ".join(family for family, _ in choice.families[:2])
            stock = stock_words(choice, chosen.currency)
            table.add_row(
                f"  {choice.name}",
                shown(choice.worst_pct),
                str(choice.drops),
                smells,
                first_word(choice) + (f" ({stock})" if stock else ""),
            )
    console.print(Padding(table, (1, 0, 1, 0)))


def _show_one(console: Console, choice: Choice, currency: str) -> None:
    console.print()
    console.print(Text(f"{mark(choice.verdict)} {choice.name}: {choice.verdict}", style="bold"))
    smells = ", ".join(f"{family} {share:.0f} %" for family, share in choice.families)
    console.print(
        Padding(f"Smells {smells}; {choice.note} note; {choice.odour_words} in the trade's words.", (0, 0, 0, 2))
    )
    if stock := stock_words(choice, currency):
        console.print(Padding(sentence(stock) + ".", (0, 0, 0, 2)))
    for reason in choice.reasons:
        cited = f" [{', '.join(reason.sources)}]" if reason.sources else ""
        console.print(Padding(f"{'▲' if reason.against else '·'} {reason.text}{cited}", (0, 0, 0, 2)))
    if choice.labels:
        console.print(Padding(f"A label in the EU would name: {listed(choice.labels)}.", (0, 0, 0, 2)))


def show_wheel(name: str, blend: Blend, ring: Ring, catalogue: Catalogue) -> None:
    """Print a blend: families in the order of the wheel, notes, what each oil adds, what is absent."""
    console = _console()
    console.print(Text(f"{name}: mostly {blend.profile.leading}", style="bold"))
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, show_header=False)
    table.add_column(no_wrap=True)
    table.add_column(justify="right", no_wrap=True)
    table.add_column(no_wrap=True)
    most = max(blend.profile.families.values())
    for family in ring.families:
        share = blend.profile.families[family]
        table.add_row(family, f"{100 * share:.0f} %", "█" * round(BAR * share / most) if share >= ABSENT else "·")
    console.print(Padding(table, (1, 0, 1, 2)))
    notes = ", ".join(f"{note} {100 * share:.0f} %" for note, share in blend.profile.notes.items())
    console.print(f"How fleeting: {notes} of what is smelt over it at first; the base is what stays.")
    adds = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    adds.add_column("Oil", overflow="fold")
    adds.add_column("By weight", justify="right", no_wrap=True)
    adds.add_column("Of the smell", justify="right", no_wrap=True)
    adds.add_column("Brings most of", overflow="fold")
    for one in blend.added:
        brings = ", ".join(f"{family} ({part:.0f} %)" for family, part in one.families)
        adds.add_row(one.name, f"{one.share_pct:.0f} %", f"{one.smelt_pct:.0f} %", brings)
    console.print(Padding(adds, (1, 0, 1, 2)))
    for family in blend.absent:
        oils = listed((catalogue.oils[id_].name for id_ in blend.would_fill[family]), "or")
        console.print(f"No {family}: {f'{oils} would bring it.' if oils else 'no oil to propose brings it.'}")
    console.print(
        Text(
            "Families by odour words (from memory, not checked) and strength over the oil at 25 °C, half by the trade's word "
            f"for each oil; words are held for {blend.profile.worded_pct:.0f} % of the scent by weight. Most thresholds are estimates.",
            style="dim",
        )
    )
