"""Making day: what this room and this air do to this mix while it is made, dried and wrapped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review import binding, curing, damp, dehumidifying, vapour, wrapping
from fizzwright.review.figures import Notice, Section
from fizzwright.review.room import Room, usual_room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, piece

Told = Callable[[Mix, Catalogue, Setting, Piece, Room], Section]
"""What a part of the making day has to say: each returns its own share of the section."""
PARTS: tuple[Told, ...] = (damp.told, binding.told, curing.told, vapour.told, dehumidifying.told, wrapping.told)


def section(mix: Mix, catalogue: Catalogue, setting: Setting) -> Section:
    """Everything about the day: the air, the open bowl, the binder, drying, vapour and wrapping."""
    size = piece(mix, catalogue)
    room = setting.room or usual_room(setting.workshop, catalogue)
    told = [part(mix, catalogue, setting, size, room) for part in PARTS]
    return Section(
        "making_day",
        "Making day",
        tuple(figure for share in told for figure in share.figures),
        tuple(_weighed(notice, room) for share in told for notice in share.notices),
        curves=tuple(curve for share in told for curve in share.curves),
        tables=tuple(table for share in told for table in share.tables),
    )


def _weighed(notice: Notice, room: Room) -> Notice:
    """Until somebody reads the room its damp is only likely: it is told, but says nothing against the recipe."""
    return notice if room.is_read or notice.level == "stop" else replace(notice, standing=True)
