"""Making day: what this room and this air do to this mix while it is made, dried and wrapped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review import binding, curing, damp, dehumidifying, vapour, wrapping
from fizzwright.review.figures import Figure, Input, Notice, Section, Working
from fizzwright.review.room import Room, usual_room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, piece
from fizzwright.review.verdict_of_day import Day, day
from fizzwright.review.wetting import as_bound

Told = Callable[[Mix, Catalogue, Setting, Piece, Room], Section]
"""What a part of the making day has to say: each returns its own share of the section."""
PARTS: tuple[Told, ...] = (damp.told, binding.told, curing.told, vapour.told, dehumidifying.told, wrapping.told)


def section(mix: Mix, catalogue: Catalogue, setting: Setting) -> Section:
    """Everything about the day: the air, the open bowl, the binder, drying, vapour and wrapping."""
    return made(mix, catalogue, setting)[0]


def made(mix: Mix, catalogue: Catalogue, setting: Setting) -> tuple[Section, Day]:
    """The section and its verdict; a binder "to consistency" is reckoned as the mix wants it."""
    size = piece(mix, catalogue)
    room = setting.room or usual_room(setting.workshop, catalogue)
    mix = as_bound(mix, catalogue, room)
    told = [part(mix, catalogue, setting, size, room) for part in PARTS]
    word = day(mix, catalogue, size, room)
    found = Section(
        "making_day",
        "Making day",
        (_day(word, room), *(figure for share in told for figure in share.figures)),
        tuple(_weighed(notice, room) for share in told for notice in share.notices),
        curves=tuple(curve for share in told for curve in share.curves),
        tables=tuple(table for share in told for table in share.tables),
    )
    return found, word


def _weighed(notice: Notice, room: Room) -> Notice:
    """Until somebody reads the room its damp is only likely: it is told, but says nothing against the recipe."""
    return notice if room.is_read or notice.level == "stop" else replace(notice, standing=True)


def _day(word: Day, room: Room) -> Figure:
    inputs = (
        Input("room", room.room_c, "°C", room.told),
        Input("humidity", room.humidity_pct, "%", room.told),
        Input("the work takes", word.needs_minutes, "min", room.pace.told, "estimate"),
        Input("the open bowl lasts", word.has_minutes, "min", "open_bowl_minutes", "estimate"),
    )
    text = " ".join((f"{room.humidity_pct:.0f} % at {room.room_c:.0f} °C, {room.told}.", word.sentence, *word.changes))
    return Figure("day", word.word, "", text, Working(JUDGED, inputs), range_kind="exact")


JUDGED = (
    "wait: the bowl lasts less than the work takes, or a piece takes over four days to dry, or the air is damper than the mix "
    "bears at the very most; hold: the bowl lasts less than twice the work, or the air is damper than the mix likely bears; "
    "else dry"
)
