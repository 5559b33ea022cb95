"""A maker's workshop folder laid over the catalogue: their own entries, prices, rates and lot analyses."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from fizzwright.catalogue.checks import check_record
from fizzwright.catalogue.faults import CatalogueFaults, Fault
from fizzwright.catalogue.holdings import (
    Catalogue,
    load,
    read_entries,
    read_moulds,
    read_oil_constituents,
    read_oils,
    read_sources,
)
from fizzwright.catalogue.lots import read_lots
from fizzwright.catalogue.model import Dye, Entry, LotAnalysis, Material, OilConstituent, Source
from fizzwright.catalogue.tables import Row, read_number, read_rows
from fizzwright.catalogue.workshop import Price, Rates, Workroom, Workshop, Wrap
from fizzwright.wording import CURRENCY_DIGITS

_ID = re.compile(r"[a-z0-9][a-z0-9_]*")
PACK_UNITS = ("g", "kg", "ml", "l", "each")
PRICE_COLUMNS = ("use", "supplier", "pack", "pack_unit", "price_minor")


def open_workshop(folder: Path | str) -> tuple[Catalogue, Workshop]:
    """The catalogue with the maker's own entries over it, and their workshop.

    Raises CatalogueFaults listing everything wrong in the folder's files at once. A file that is not there is no fault.
    """
    folder = Path(folder)
    faults: list[Fault] = []
    if not folder.is_dir():
        raise CatalogueFaults([Fault(str(folder), "", "", "no such folder", "the folder of a workshop")])
    catalogue = _overlaid(load(), folder, faults)
    lots, analyses = read_lots(catalogue, folder, faults)
    catalogue = replace(catalogue, sources={**catalogue.sources, **lots})
    workshop = _workshop(catalogue, folder, analyses, faults)
    if faults:
        raise CatalogueFaults(faults)
    return catalogue, workshop


def _table(folder: Path, name: str, faults: list[Fault]) -> Path | None:
    """A table of the workshop, when it is there; a fault when something else stands under its name."""
    path = folder / name
    if path.exists() and not path.is_file():
        faults.append(Fault(name, "", "", "a folder of this name", "a file, or nothing"))
    return path if path.is_file() else None


def _overlaid(base: Catalogue, folder: Path, faults: list[Fault]) -> Catalogue:
    def path(name: str) -> Path | None:
        return _table(folder, name, faults)

    sources = dict(base.sources)
    if found := path("sources.csv"):
        sources |= read_sources(found, faults)
    materials, moulds = dict(base.materials), dict(base.moulds)
    if found := path("materials.csv"):
        materials |= read_entries(found, Material, faults, origin="materials.csv")
    if found := path("moulds.csv"):
        moulds |= read_moulds(found, faults, origin="moulds.csv")
    dyes = dict(base.dyes)
    if found := path("dyes.csv"):
        dyes |= read_entries(found, Dye, faults, origin="dyes.csv")
    for dye in dyes.values():
        if dye.id not in materials:
            near = ", ".join(base.nearest(dye.id))
            faults.append(Fault("dyes.csv", dye.id, "id", dye.id, f"the id of a material; nearest: {near}"))
    shares: dict[str, list[OilConstituent]] = {}
    if found := path("oil_constituents.csv"):
        shares = read_oil_constituents(found, faults)
    oils = dict(base.oils)
    if found := path("oils.csv"):
        # An oil of the catalogue whose row is shadowed keeps its constituents unless the maker gives their own.
        given = {oil: list(entry.constituents) for oil, entry in oils.items()} | shares
        oils |= read_oils(found, given, faults, origin="oils.csv")
    for oil_id, parts in shares.items():
        if oil_id not in oils:
            near = ", ".join(base.nearest(oil_id))
            faults.append(Fault("oil_constituents.csv", oil_id, "oil_id", oil_id, f"an oil's id; nearest: {near}"))
        elif oils[oil_id].origin == "catalogue":
            oils[oil_id] = replace(oils[oil_id], constituents=tuple(parts), origin="oil_constituents.csv")
    _check_own((*materials.values(), *oils.values(), *moulds.values()), sources, faults)
    for dye in dyes.values():
        if dye.origin != "catalogue":
            faults.extend(check_record(dye, dye.origin, dye.id, sources))
    return replace(base, sources=sources, materials=materials, moulds=moulds, oils=oils, dyes=dyes)


def _check_own(entries: Iterable[Entry], sources: Mapping[str, Source], faults: list[Fault]) -> None:
    kinds: dict[str, str] = {}
    for entry in entries:
        kind = type(entry).__name__.lower()
        taken = kinds.setdefault(entry.id, kind)
        if taken != kind and kind != "mould":
            allowed = f"another id: the catalogue has a {taken} of that id already"
            faults.append(Fault(f"{kind}s.csv", entry.id, "id", entry.id, allowed))
        if entry.origin == "catalogue":
            continue
        if not _ID.fullmatch(entry.id):
            allowed = "small letters, digits and _ only, such as oat_flour"
            faults.append(Fault(entry.origin, entry.id, "id", entry.id, allowed))
        faults.extend(check_record(entry, entry.origin, entry.id, sources))


def _number(
    row: Row, column: str, table: str, where: str, faults: list[Fault], least: float, most: float
) -> float | None:
    cell = row.get(column, "").strip()
    try:
        number = read_number(cell)
    except ValueError:
        faults.append(Fault(table, where, column, cell, f"a number from {least:g} to {most:g}"))
        return None
    if not least <= number <= most:
        faults.append(Fault(table, where, column, cell, f"{least:g} to {most:g}"))
        return None
    return number


def _prices(catalogue: Catalogue, folder: Path, faults: list[Fault]) -> tuple[Price, ...]:
    path = _table(folder, "prices.csv", faults)
    prices: list[Price] = []
    if path is None:
        return ()
    for line, row in read_rows(path, faults, needs=PRICE_COLUMNS):
        where = f"line {line}"
        before = len(faults)
        use = row["use"].strip()
        if catalogue.usable(use) is None:
            near = ", ".join(catalogue.nearest(use))
            faults.append(Fault(path.name, where, "use", use, f"an id of the catalogue; nearest: {near}"))
        if row["pack_unit"].strip() not in PACK_UNITS:
            faults.append(Fault(path.name, where, "pack_unit", row["pack_unit"], "one of " + ", ".join(PACK_UNITS)))
        pack = _number(row, "pack", path.name, where, faults, least=0.001, most=1e6)
        price = _number(row, "price_minor", path.name, where, faults, least=0, most=1e9)
        if price is not None and price != int(price):
            faults.append(
                Fault(path.name, where, "price_minor", row["price_minor"], "a whole number of pence or cents")
            )
        on_hand = None
        if row.get("on_hand_g", "").strip():
            on_hand = _number(row, "on_hand_g", path.name, where, faults, least=0, most=1e7)
        bought = None
        if day := row.get("bought", "").strip():
            try:
                bought = date.fromisoformat(day)
            except ValueError:
                faults.append(Fault(path.name, where, "bought", day, "a date such as 2026-11-25"))
        if len(faults) > before or pack is None or price is None:
            continue
        supplier, unit, lot = row["supplier"].strip(), row["pack_unit"].strip(), row.get("lot", "").strip()
        prices.append(Price(use, supplier, pack, unit, int(price), lot=lot, on_hand_g=on_hand, bought=bought))
    return tuple(prices)


def _workshop(catalogue: Catalogue, folder: Path, analyses: Mapping[str, LotAnalysis], faults: list[Fault]) -> Workshop:
    table = "workshop.toml"
    content: dict[str, Any] = {}
    if found := _table(folder, table, faults):
        try:
            content = tomllib.loads(found.read_text(encoding="utf-8-sig"))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            faults.append(Fault(table, "", "", str(error), "TOML text, saved as UTF-8"))
    reader = _Keys(table, faults)
    known = ("name", "currency", "scale_step_g", "small_scale_step_g", "spoons", "rates", "room", "wrap")
    reader.only(content, known, "")
    prices = _prices(catalogue, folder, faults)
    # without any money in the folder the currency does not matter: ISO 4217 has XXX for that
    money = bool(prices) or "rates" in content or "wrap" in content
    currency = reader.text(content, "currency", "XXX") if "currency" in content or not money else ""
    if not (len(currency) == 3 and currency.isascii() and currency.isupper()):
        faults.append(Fault(table, "", "currency", currency, "three capital letters, such as GBP, USD or EUR"))
    small = reader.number(content, "small_scale_step_g", None, least=1e-4, most=100)
    return Workshop(
        name=reader.text(content, "name", folder.resolve().name),
        folder=folder,
        currency=currency,
        currency_digits=CURRENCY_DIGITS.get(currency, 2),
        rates=_rates(content.get("rates"), reader),
        prices=prices,
        wraps=_wraps(content.get("wrap", []), reader),
        lot_analyses=analyses,
        scale_step_g=reader.number(content, "scale_step_g", 1.0, least=1e-4, most=100) or 1.0,
        small_scale_step_g=small,
        spoons=_spoons(content.get("spoons", []), reader),
        room=_room(content.get("room"), reader),
    )


def _spoons(value: object, reader: _Keys) -> tuple[str, ...]:
    """What lies in the drawer, as named; what each holds follows from the system of the recipe."""
    if not isinstance(value, list) or not all(isinstance(name, str) and name.strip() for name in value):
        reader.fault("spoons", value, 'a list of measures, such as ["1 cup", "1/2 cup", "1 tbsp", "1 tsp"]')
        return ()
    return tuple(value)


ROOM_KEYS: dict[str, tuple[float, float]] = {
    "volume_m3": (1.0, 100_000.0),
    "air_changes_shut": (0.01, 100.0),
    "air_changes_open": (0.01, 100.0),
    "usual_c": (-10.0, 50.0),
    "usual_humidity_pct": (0.0, 100.0),
    "altitude_m": (-430.0, 5500.0),
    "cupboard_m3": (0.01, 1000.0),
    "dehumidifier_l_per_day": (0.1, 1000.0),
    "dehumidifier_at_c": (10.0, 45.0),
    "dehumidifier_at_humidity_pct": (20.0, 100.0),
}
"""Numbers of [room] with the least and the most that can be meant."""


def _room(content: object, reader: _Keys) -> Workroom | None:
    if content is None:
        return None
    if not isinstance(content, dict):
        reader.fault("room", content, "a table [room]")
        return None
    reader.only(content, (*ROOM_KEYS, "time_zone"), "room.")
    found = {name: reader.number(content, name, None, *bounds, "room.") for name, bounds in ROOM_KEYS.items()}
    given: dict[str, Any] = {name: value for name, value in found.items() if value is not None}
    zone = reader.text(content, "time_zone", "") if "time_zone" in content else ""
    try:
        ZoneInfo(zone or "UTC")
    except (ZoneInfoNotFoundError, ValueError):
        reader.fault("room.time_zone", zone, "the name of a clock, such as Europe/London or America/Chicago")
    room = Workroom(**given, time_zone=zone)
    if room.air_changes_open < room.air_changes_shut:
        reader.fault("room.air_changes_open", room.air_changes_open, "at least as much as air_changes_shut")
    return room


def _rates(content: object, reader: _Keys) -> Rates | None:
    if content is None:
        return None
    if not isinstance(content, dict):
        reader.fault("rates", content, "a table [rates]")
        return None
    known = (
        "labour_minor_per_hour", "minutes_per_batch", "minutes_per_piece", "loss_pct", "overhead_minor_per_batch",
        "margin_pct", "fixed_minor_per_month",
    )  # fmt: skip
    reader.only(content, known, "rates.")
    most = {"loss_pct": 90.0, "margin_pct": 95.0}
    found = {name: reader.number(content, name, 0.0, 0, most.get(name, 1e9), "rates.") or 0.0 for name in known}
    return Rates(
        labour_minor_per_hour=round(found["labour_minor_per_hour"]),
        minutes_per_batch=found["minutes_per_batch"],
        minutes_per_piece=found["minutes_per_piece"],
        loss_pct=found["loss_pct"],
        overhead_minor_per_batch=round(found["overhead_minor_per_batch"]),
        margin_pct=found["margin_pct"],
        fixed_minor_per_month=round(found["fixed_minor_per_month"]),
    )


def _wraps(content: object, reader: _Keys) -> tuple[Wrap, ...]:
    if not isinstance(content, list) or not all(isinstance(item, dict) for item in content):
        reader.fault("wrap", content, "tables [[wrap]]")
        return ()
    wraps = []
    for number, item in enumerate(content, 1):
        prefix = f"wrap {number}."
        reader.only(item, ("name", "price_minor", "per"), prefix)
        per = reader.text(item, "per", "piece")
        if per not in ("piece", "batch"):
            reader.fault(prefix + "per", per, "piece or batch")
        price = reader.number(item, "price_minor", 0.0, 0, 1e9, prefix) or 0.0
        wraps.append(Wrap(name=reader.text(item, "name", f"wrap {number}"), price_minor=price, per=per))
    return tuple(wraps)


class _Keys:
    """Reads keys of workshop.toml and notes what does not fit."""

    def __init__(self, table: str, faults: list[Fault]) -> None:
        self.table = table
        self.faults = faults

    def fault(self, key: str, read: object, allowed: str) -> None:
        self.faults.append(Fault(self.table, "", key, str(read), allowed))

    def only(self, content: Mapping[str, Any], known: tuple[str, ...], prefix: str) -> None:
        for key in content.keys() - set(known):
            self.fault(prefix + key, content[key], "no such key; allowed are " + ", ".join(known))

    def text(self, content: Mapping[str, Any], key: str, default: str) -> str:
        value = content.get(key, default)
        if not isinstance(value, str) or not value.strip():
            self.fault(key, value, "text in quotes")
            return default
        return value

    def number(
        self, content: Mapping[str, Any], key: str, default: float | None, least: float, most: float, prefix: str = ""
    ) -> float | None:
        value = content.get(key, default)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
            self.fault(prefix + key, value, f"a number from {least:g} to {most:g}")
            return default
        return float(value)
