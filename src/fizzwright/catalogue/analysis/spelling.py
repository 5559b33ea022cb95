"""One spelling for the many that laboratories use: Greek letters, cis and trans, E and Z, signs of rotation, other languages."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

_GREEK = {"α": "alpha", "β": "beta", "γ": "gamma", "δ": "delta", "ε": "epsilon", "τ": "tau"}
_LETTERS = {"a": "alpha", "b": "beta", "g": "gamma", "d": "delta", "t": "tau"}
_GREEK_WORD = re.compile(
    r"(?<![a-z])(alpha|beta|gamma|delta|epsilon|tau)(?![a-z])|(?<=-)(alpha|beta|gamma|delta|epsilon|tau)(?=[a-z])"
)
_STEREO = re.compile(r"(?<![a-z])(cis|trans)(?![a-z])|\((\d*[ez](?:,\s*\d*[ez])*)\)|(?<![a-z(])([ez](?:,[ez])?)-")
_HAND = re.compile(r"\((?:\+|-|\+/-|±|[\d,]*[rs](?:,\s*\d*[rs]\*?)*|rs|dl|d|l)\)-?|(?<![a-z])dl-|[+±](?=-)")
_ACIDS = {
    "acetat": "acetate", "formiat": "formate", "format": "formate", "butyrat": "butyrate", "propionat": "propionate",
    "tiglat": "tiglate", "benzoat": "benzoate", "salicylat": "salicylate", "angelat": "angelate",
}  # fmt: skip
_FRENCH = re.compile(rf"({'|'.join(_ACIDS)})[eo]? d[e'’]\s?(?:l')?\s?([\w-]+?)(?:yle|ilo|ile|ila)")
_GERMAN = re.compile(rf"(.+yl)[ -]?({'|'.join(_ACIDS)})")
_OXIDE = re.compile(r"(?:oxyde?|oxido|ossido) (?:de |d'|di )([\w-]+)|([\w-]+)oxid")


def is_cas(number: str) -> bool:
    """True when the last digit of a CAS number is the check digit the registry's rule gives."""
    found = re.fullmatch(r"(\d{2,7})-(\d\d)-(\d)", number.strip())
    if found is None:
        return False
    digits = reversed(found[1] + found[2])
    return sum(place * int(digit) for place, digit in enumerate(digits, 1)) % 10 == int(found[3])


def plain(name: str) -> str:
    """A name in small Latin letters, Greek ones spelt out, dashes and quotes made one, without footnote marks."""
    text = re.sub(r"[⁰¹²³⁴-⁹*†‡§]+$", "", name.strip())
    text = unicodedata.normalize("NFKD", text)
    text = "".join(letter for letter in text if not unicodedata.combining(letter)).casefold()
    for letter, word in _GREEK.items():
        text = text.replace(letter, f"{word}")
    text = re.sub(r"[‐-―−]", "-", text)
    text = re.sub(r"[’′`´]", "'", text)
    text = re.sub(r"(?<![a-z])(para|ortho|meta)-", lambda found: found[1][0] + "-", text)
    return re.sub(r"\s+", " ", text).strip(" .:;,")


def key(name: str) -> str:
    """What two spellings of one name share: the isomer, the Greek letters, then letters and digits of the rest."""
    text = plain(name)
    # "pinene, alpha-" is alpha-pinene
    if found := re.fullmatch(r"(.+?), ?([^,]*[-)])", text):
        text = f"{found[2]}{found[1]}"
    isomers: list[str] = []

    def isomer(found: re.Match[str]) -> str:
        said = found[1] or found[2] or found[3]
        said = {"cis": "z", "trans": "e"}.get(said, said)
        isomers.extend(re.findall(r"[ez]", said))
        return " "

    text = _STEREO.sub(isomer, text)
    greek = [first or second for first, second in _GREEK_WORD.findall(text)]
    text = _GREEK_WORD.sub(" ", text)
    rest = re.sub(r"[^a-z0-9]", "", text)
    return "".join(isomers) + "|" + "".join(greek) + "|" + rest


def keys(name: str) -> Iterator[tuple[str, bool]]:
    """The keys under which a name may stand, likeliest first, and whether each is the name as it is written."""
    text = plain(name)
    sign = re.search(r"\((\+|-)\)", text)
    bare = _HAND.sub("", text)
    # The sign of rotation is what d- and l- stand for in the trade's names.
    if sign:
        yield key(("d-" if sign[1] == "+" else "l-") + re.sub(r"^[dl]-", "", bare)), False
    yield key(text), True
    yield key(bare), False
    if found := re.fullmatch(r"([abgdt])-(.+)", bare):
        yield key(f"{_LETTERS[found[1]]}-{found[2]}"), False
        if found[1] == "t":
            yield key(f"trans-{found[2]}"), False
        if found[1] == "d":
            yield key(found[2]), False
    elif found := re.fullmatch(r"(?:l|n)-(.+)", bare):
        yield key(found[1]), False
    yield from ((key(other), False) for other in _other_tongue(bare))


def _other_tongue(text: str) -> Iterator[str]:
    """A French, German, Spanish or Italian name as English would build it."""
    if found := _FRENCH.fullmatch(text):
        yield f"{found[2]}yl {_ACIDS[found[1]]}"
    if found := _GERMAN.fullmatch(text):
        yield f"{found[1]} {_ACIDS[found[2]]}"
    if found := _OXIDE.fullmatch(text):
        stem = found[1] or found[2]
        yield f"{stem} oxide"
        yield f"{stem}e oxide"
    if re.search(r"(en|ol|al|on|eno|ona|ene)$", text):
        yield f"{text}e"
        yield re.sub(r"(?<=en)o$|(?<=on)a$|(?<=ol)o$|(?<=al)e$|(?<=ol)e$", "", text)
        yield re.sub(r"(?<=en)o$|(?<=on)a$", "e", text)
