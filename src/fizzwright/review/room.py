"""The room a batch is made in: what was read there today, or else what it usually is."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workroom, Workshop
from fizzwright.review.pace import UNTIMED, Pace, pace_of
from fizzwright.science.moisture import checked_humidity_pct, checked_temperature_c

UNKNOWN_ROOM = Workroom()
"""A maker who says nothing of their room is taken to work in a kitchen."""


@dataclass(frozen=True, slots=True)
class Room:
    """The air of a room, what moves it, and how fast the work in it goes. ValueError for air nobody can have, in words."""

    room_c: float
    humidity_pct: float
    volume_m3: float = UNKNOWN_ROOM.volume_m3
    air_changes_shut: float = UNKNOWN_ROOM.air_changes_shut
    """Air changes an hour with window and door shut."""
    air_changes_open: float = UNKNOWN_ROOM.air_changes_open
    """Air changes an hour with the window a hand's width open."""
    pressure_pa: float = 101_325.0
    pace: Pace = UNTIMED
    """How fast the work goes in it."""
    told: str = "taken for granted"
    """Where temperature and humidity come from, as it stands in a sentence: "read today", "as this room usually is",
    "taken for granted"."""

    def __post_init__(self) -> None:
        """Refuse air nobody can have."""
        checked_temperature_c(self.room_c)
        checked_humidity_pct(self.humidity_pct)

    @property
    def is_read(self) -> bool:
        """True when somebody looked at a thermometer and a hygrometer."""
        return self.told == READ


READ = "read today"
USUAL = "as this room usually is"
ASSUMED = "taken for granted"


def usual_room(workshop: Workshop | None, catalogue: Catalogue) -> Room:
    """The room as it usually is: the workshop's own word, else the middling making room of the catalogue's facts."""
    workroom = workshop.room if workshop and workshop.room else UNKNOWN_ROOM
    celsius, humidity = workroom.usual_c, workroom.usual_humidity_pct
    told = USUAL if celsius is not None and humidity is not None else ASSUMED
    craft_c, craft_rh = catalogue.fact("craft_room_c").typical, catalogue.fact("rh_craft_ok").typical
    assert craft_c is not None and craft_rh is not None, "the catalogue's own facts"
    return Room(
        craft_c if celsius is None else celsius,
        craft_rh if humidity is None else humidity,
        workroom.volume_m3,
        workroom.air_changes_shut,
        workroom.air_changes_open,
        workroom.pressure_pa,
        pace_of(workshop),
        told,
    )


def read_room(workshop: Workshop | None, catalogue: Catalogue, room_c: float, humidity_pct: float) -> Room:
    """The same room with today's reading. ValueError for air nobody can have."""
    return replace(usual_room(workshop, catalogue), room_c=room_c, humidity_pct=humidity_pct, told=READ)
