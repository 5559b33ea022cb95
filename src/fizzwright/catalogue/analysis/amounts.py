"""What stands in a percent cell: a number with comma or point, a trace, less than so much, or nothing found."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

TRACE_PCT = 0.1
"""estimate: laboratories mostly call a peak a trace below 0.1 or 0.05 %; the wider reading is taken."""
UNSEEN_PCT = 0.05
"""estimate: what a peak looked for and not found may still be, at the least a usual method shows."""
_TRACE = {"t", "tr", "tr.", "trace", "traces", "spur", "spuren", "traza", "trazas", "tracce"}
_UNSEEN = {
    "n.d.", "n.d", "nd", "n/d", "not detected", "none detected", "nicht nachweisbar", "n.n.", "nn", "non detecte",
    "no detectado", "absent", "absence",
}  # fmt: skip
_BLANK = {"", "-", "--", "n/a", "na", "nr", "n.r.", "."}
_NUMBER = r"\d+(?:[.,]\d+)?|[.,]\d+"
_PLAIN = re.compile(rf"(?P<below>[<≤]|&lt;)?\s*(?P<value>{_NUMBER})(?:\s*(?:±|\+/-)\s*(?P<spread>{_NUMBER}))?")
_SIGNED = re.compile(rf"-\s*(?:{_NUMBER})")


@dataclass(frozen=True, slots=True)
class Share:
    """A share in percent: as likely, at least and at most."""

    pct: float
    least: float
    most: float
    kind: str = "figure"
    """figure, trace, below or unseen."""


def tidied(cell: str) -> str:
    """A cell in small letters, signs made one, without percent sign, footnote marks and accents."""
    # a raised figure is a footnote mark; made plain it would become a digit of the number
    cell = re.sub(r"[⁰¹²³⁴-⁹ᵃᵇᶜ]+$", "", cell.strip())
    text = unicodedata.normalize("NFKD", cell).replace("−", "-").replace("–", "-").replace("—", "-")
    text = "".join(letter for letter in text if not unicodedata.combining(letter)).casefold()
    text = re.sub(r"\s*(?:%|pct|percent)\s*", " ", text)
    return re.sub(r"[*†‡§#]+|(?<=\d)\s*(?:\([a-z0-9]\)|\[[a-z0-9]\]|\b[a-h])$", "", text.strip()).strip()


def is_blank(cell: str) -> bool:
    """True when a cell gives no figure at all."""
    return tidied(cell) in _BLANK


def is_negative(cell: str) -> bool:
    """True when a cell holds a number below zero."""
    return _SIGNED.fullmatch(tidied(cell)) is not None


def read_share(cell: str, times: float = 1.0) -> Share | None:
    """The share that a cell gives; None when it is neither a number nor a mark that laboratories use.

    times: what turns the column's unit into percent, such as 0.0001 for mg/kg.
    """
    text = tidied(cell)
    if text in _TRACE:
        return Share(TRACE_PCT / 2, 0.0, TRACE_PCT, "trace")
    if text in _UNSEEN:
        return Share(0.0, 0.0, UNSEEN_PCT, "unseen")
    found = _PLAIN.fullmatch(text)
    if found is None:
        return None
    value = _number(found["value"]) * times
    if found["below"]:
        return Share(value / 2, 0.0, value, "below")
    spread = _number(found["spread"]) * times if found["spread"] else 0.0
    return Share(value, max(0.0, value - spread), value + spread)


def share_text(share: Share) -> str:
    """A share as a report would write it, in percent."""
    if share.kind in ("trace", "unseen"):
        return "tr" if share.kind == "trace" else "n.d."
    if share.kind == "below":
        return f"<{share.most:.10g}"
    spread = share.most - share.pct
    return f"{share.pct:.10g}" + (f" ± {spread:.3g}" if spread > 1e-9 else "")


def _number(text: str) -> float:
    return float(text.replace(",", "."))
