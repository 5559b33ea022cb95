"""The recipe at the bowl: one step a screen."""

from __future__ import annotations

import re
from dataclasses import dataclass

from fizzwright.web.views import LineView, NoticeView, ReviewView

ROOM_STEP = "Make the room ready"
WEIGH_STEP = "Weigh everything out"
DUSTY_STEPS = ("Sieve the dry things", "Colour the dry base", "Fold in the foaming powder", "Add the acid last")
"""Steps of the making section whose cautions hold as soon as a powder is opened."""


@dataclass(frozen=True, slots=True)
class BowlStep:
    """One screen at the bowl: a name, one weight or none, one sentence, its cautions, and things to have ready."""

    title: str
    weight: str
    sentence: str
    cautions: tuple[NoticeView, ...] = ()
    ready: tuple[str, ...] = ()


def bowl_steps(view: ReviewView) -> tuple[BowlStep, ...]:
    """The whole batch, one screen after another.

    What stops it; the room and the things to have ready; what to wear before any powder is opened; each line to weigh;
    then each step of the making.
    """
    steps = [(step, section.ready) for section in view.sections for step in section.steps]
    stops = tuple(n for n in view.notices if n.level == "stop")
    first = (BowlStep("Do not make this yet", "", view.sentence, stops),) if stops else ()
    room = tuple(BowlStep(s.title, "", s.text, s.cautions, ready) for s, ready in steps if s.title == ROOM_STEP)
    worn = tuple(dict.fromkeys(c for s, _ in steps for c in s.cautions if s.title in DUSTY_STEPS))
    wear = (BowlStep("Cover up first", "", "Before you open a bag of powder.", worn),) if worn else ()
    weighed = tuple(
        BowlStep(f"Weigh {line.name}{f' for the {line.part}' if line.part else ''}", line.grams, as_written(line))
        for line in view.lines
    )
    made = tuple(BowlStep(s.title, "", s.text, s.cautions) for s, _ in steps if s.title not in (ROOM_STEP, WEIGH_STEP))
    return (*first, *room, *wear, *weighed, *made)


def as_written(line: LineView) -> str:
    """The amount as the recipe says it, where that is not the weight itself."""
    written = line.written.strip()
    if re.fullmatch(r"[0-9.,\s\u202f]+k?g", written):
        return ""
    return f"Written as {written}." if re.search(r"%|part|consistency", written) else f"Or {written}."
