"""The commands `fizzwright oil …`: an analysis taken in as a lot, oils chosen for a bath, a blend on the scent wheel."""

from __future__ import annotations

import json
import shlex
import sys
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fizzwright.refusal import Refusal

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue
    from fizzwright.catalogue.analysis.naming import Match
    from fizzwright.plan.lots import Taken

oil_app = typer.Typer(
    help="Essential oils: choose them, see a blend on the wheel, take in an analysis.", no_args_is_help=True
)


@oil_app.callback()
def oil() -> None:
    """Essential oils: choose them, see a blend on the wheel, take in an analysis."""


@dataclass
class _Said:
    """What has been said so far, by options or at the prompt."""

    oil: str = ""
    lot: str = ""
    supplier: str = ""
    answers: dict[str, str] = field(default_factory=dict)
    accept_near: bool = False


@oil_app.command("import")
def import_report(
    file: Annotated[Path, typer.Argument(help="The laboratory's table: CSV, TSV, text or XLSX.", show_default=False)],
    oil_id: Annotated[
        str, typer.Option("--oil", metavar="ID", help="Which oil it is, such as lavender.", show_default=False)
    ] = "",
    lot: Annotated[
        str, typer.Option("--lot", metavar="CODE", help="The lot code on the bottle.", show_default=False)
    ] = "",
    workshop: Annotated[
        Path | None, typer.Option("--workshop", help="The workshop folder; found by itself when you stand in one.")
    ] = None,
    supplier: Annotated[str, typer.Option("--supplier", help="Who sold it.", show_default=False)] = "",
    yes_to: Annotated[
        list[str] | None,
        typer.Option(
            "--yes-to",
            metavar="NAME=ID",
            help="What a doubtful name means; ID may be several joined by +, or none. Repeat for more.",
        ),
    ] = None,
    accept_near: Annotated[
        bool, typer.Option("--accept-near", help="Take every proposal for a doubtful name.")
    ] = False,
    column: Annotated[
        list[str] | None,
        typer.Option(
            "--column", metavar="ROLE=HEADER", help="Which column is name, cas or pct, when the guess is wrong."
        ),
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Put it in place of an analysis of the same lot.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Read and compare; keep nothing.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON for another program.")] = False,
) -> None:
    """Take in a laboratory's analysis (GC-MS table) of one lot of one oil."""
    from fizzwright.catalogue import load, open_workshop
    from fizzwright.catalogue.analysis.reading import read_report
    from fizzwright.plan.lots import keep, take

    folder = _folder(file, workshop)
    if folder is None and not dry_run:
        raise Refusal(
            "No workshop folder was found here. Name the folder that holds workshop.toml: --workshop DIR; or try --dry-run."
        )
    catalogue, shop = open_workshop(folder) if folder else (load(), None)
    report = read_report(_bytes(file), file.name, _pairs(column, "--column"))
    said = _Said(oil_id, lot, supplier, _pairs(yes_to, "--yes-to"), accept_near)

    def taken_now() -> Taken:
        return take(
            report,
            catalogue,
            oil=said.oil,
            lot=said.lot,
            answers=said.answers,
            accept_near=said.accept_near,
            supplier=said.supplier,
        )

    taken = taken_now()
    if not as_json and not dry_run and sys.stdin.isatty() and not taken.is_settled:
        _ask(taken, said, catalogue)
        taken = taken_now()
        while taken.questions:
            # another oil can read an unspecific name in another way
            _ask(taken, said, catalogue)
            taken = taken_now()
    written = (
        keep(taken, catalogue, shop, today=date.today(), replace=replace)
        if shop and taken.is_settled and not dry_run
        else None
    )
    if as_json:
        kept = {"written": str(written) if written else None}
        sys.stdout.write(json.dumps(taken.as_dict() | kept, ensure_ascii=False, indent=2, allow_nan=False) + "\n")
    else:
        from fizzwright.oil_words import show_taken

        show_taken(taken, written, catalogue)
    if not dry_run and not taken.is_settled:
        raise Refusal(_left_open(taken, file))


@oil_app.command("choose")
def choose_oils(
    audience: Annotated[
        str, typer.Option("--audience", metavar="WHO", help="adult, child_6_plus, child_2_plus or pregnancy.")
    ] = "adult",
    sold_in: Annotated[
        list[str] | None,
        typer.Option("--sold-in", metavar="MARKET", help="us, eu, uk, ca or au. Repeat for more; none for home."),
    ] = None,
    family: Annotated[
        str, typer.Option("--family", help="Only oils of this scent family, such as citrus.", show_default=False)
    ] = "",
    mood: Annotated[
        str,
        typer.Option(
            "--mood", help="Only oils of this character: fresh, bright, leafy, soft, warm or deep.", show_default=False
        ),
    ] = "",
    without_allergen: Annotated[
        list[str] | None,
        typer.Option(
            "--without-allergen", metavar="NAME", help="Keep it below what a label must name. Repeat for more."
        ),
    ] = None,
    why: Annotated[
        list[str] | None, typer.Option("--why", metavar="ID", help="All that is known for and against this oil.")
    ] = None,
    workshop: Annotated[
        Path | None, typer.Option("--workshop", help="The workshop folder, for prices and what is in stock.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON for another program.")] = False,
) -> None:
    """Say which oils suit a bath for this bather and market, best first, and why others do not."""
    from fizzwright.design.choosing import choose
    from fizzwright.opening import workshop_of

    # workshop_of looks beside a file; standing in a workshop is enough here
    catalogue, shop = workshop_of(Path.cwd() / "workshop.toml", workshop)
    chosen = choose(
        catalogue,
        shop,
        audience=audience,
        sold_in=tuple(sold_in or ()),
        family=family,
        mood=mood,
        without_allergens=tuple(without_allergen or ()),
    )
    asked = tuple(why or ())
    for oil_id in asked:
        if oil_id not in {one.oil for one in chosen.choices}:
            near = ", ".join(near for near in catalogue.nearest(oil_id) if near in catalogue.oils)
            raise Refusal(f"--why {oil_id!r}: no such oil in this list.{f' Nearest: {near}.' if near else ''}")
    if as_json:
        sys.stdout.write(json.dumps(chosen.as_dict(), ensure_ascii=False, indent=2, allow_nan=False) + "\n")
    else:
        from fizzwright.wheel_words import show_chosen

        show_chosen(chosen, asked)


@oil_app.command("wheel")
def scent_wheel(
    file: Annotated[Path, typer.Argument(help="The recipe (TOML).", show_default=False)],
    workshop: Annotated[Path | None, typer.Option("--workshop", help="The workshop folder.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON for another program.")] = False,
) -> None:
    """Show a recipe's scent on the wheel: its families, how fleeting it is, what each oil adds, what is absent."""
    from fizzwright.design.choosing import proposable
    from fizzwright.design.wheel import as_dict, blend, ring
    from fizzwright.opening import read_recipe
    from fizzwright.recipe.weigh import weigh

    recipe, catalogue, shop = read_recipe(file, workshop)
    mix = weigh(recipe, catalogue, lot_analyses=shop.lot_analyses if shop else None)
    found = blend(mix, catalogue, proposable(catalogue, recipe.audience, recipe.sold_in, mix.as_of))
    if found is None:
        raise Refusal(f"{file.name}: nothing in it is scented, so there is nothing to show on the wheel.")
    if as_json:
        told = as_dict(found, ring(catalogue)) | {"name": recipe.name}
        sys.stdout.write(json.dumps(told, ensure_ascii=False, indent=2, allow_nan=False) + "\n")
    else:
        from fizzwright.wheel_words import show_wheel

        show_wheel(recipe.name, found, ring(catalogue), catalogue)


def _folder(file: Path, named: Path | None) -> Path | None:
    """The workshop named, or the one the file lies in, or the one the maker stands in."""
    if named is not None:
        if not (named / "workshop.toml").is_file():
            raise Refusal(f"{named}: there is no workshop.toml in this folder. Name the folder that holds it.")
        return named
    places = (*file.resolve().parents[:3], Path.cwd(), *Path.cwd().parents[:2])
    return next((place for place in places if (place / "workshop.toml").is_file()), None)


def _bytes(file: Path) -> bytes:
    """The file, but never more of it than a table can be."""
    from fizzwright.catalogue.analysis.sheets import MOST_BYTES

    if not file.exists():
        raise Refusal(f"{file}: there is no such file. Check the name, or list the folder it should be in.")
    if not file.is_file():
        raise Refusal(f"{file}: this is not a file. Name the laboratory's table.")
    try:
        with file.open("rb") as opened:
            return opened.read(MOST_BYTES + 1)
    except OSError as error:
        raise Refusal(f"{file}: cannot be read ({error.strerror}).") from error


def _pairs(given: list[str] | None, option: str) -> dict[str, str]:
    pairs = {}
    for item in given or []:
        name, equals, value = item.rpartition("=")
        if not equals or not name.strip() or not value.strip():
            raise Refusal(
                f"{option} {item!r}: write it as NAME=VALUE, such as {option} 'linalol oxide=linalool oxide'."
            )
        pairs[name.strip()] = value.strip()
    return pairs


def _ask(taken: Taken, said: _Said, catalogue: Catalogue) -> None:
    """Ask at the prompt what is still open, with what is proposed as the answer."""
    if taken.oil_asked or taken.oil is None:
        near = ", ".join(f"{oil} ({likeness:.2f})" for oil, likeness in taken.likeness)
        typer.echo(f"Which oil is this? By its profile it is most like {near or 'none we know'}.", err=True)
        said.oil = _prompt("Oil", taken.oil.id if taken.oil else None)
    if not taken.lot:
        said.lot = _prompt("Lot code, as on the bottle", None)
    for match in taken.questions:
        said.answers[match.label] = _answer(match, catalogue)


def _answer(match: Match, catalogue: Catalogue) -> str:
    typer.echo(f"{match.label} ({match.peak.written} %): {match.question}", err=True)
    near = ", ".join(catalogue.constituents[entry].id for entry in match.nearest)
    return _prompt(f"Take it for (ids joined by +, or none{'; nearest: ' + near if near else ''})", match.proposal)


def _prompt(text: str, default: Any) -> str:
    return str(typer.prompt(text, default=default, err=True)).strip()


def _left_open(taken: Taken, file: Path) -> str:
    """What must still be said, and how."""
    lines = [f"{file.name}: nothing was kept, as this is still to be said:"]
    if taken.oil is None:
        lines.append("  which oil it is: --oil ID")
    elif taken.oil_asked:
        near = ", ".join(f"{oil} ({likeness:.2f} of 1)" for oil, likeness in taken.likeness)
        lines.append(f"  which oil it is: --oil {taken.oil.id}? By its profile it is most like {near}.")
    if not taken.lot:
        lines.append("  which lot it is: --lot CODE")
    for match in taken.questions:
        lines.append(f"  {match.label}: {match.question} --yes-to {shlex.quote(f'{match.label}={match.proposal}')}")
    if taken.questions:
        lines.append("  or take every proposal: --accept-near")
    return "\n".join(lines)
