"""The colour of bath water: light down through it to the white of the tub, and back up to the eye.

Dissolved dyes take light by the Beer-Lambert law; powders that hang in the water take and throw it back (Kubelka-Munk, which
falls to Beer-Lambert where nothing throws back). From the spectrum to a colour goes the colour-science library: CIE 1931
2 degree observer, daylight D65.
"""

from __future__ import annotations

import warnings
from functools import cache
from importlib import import_module
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Numbers = float | Array

WAVELENGTHS_NM: Array = np.arange(380.0, 781.0, 5.0)
"""What the eye sees, every 5 nm."""
SHORT_SIDE = 1.3
"""estimate: how fast a band falls on its short side (2 is a Gaussian). Drawn after the spectrum of FD&C Blue No. 1, where the
shoulder near 585 nm leaves a tenth of the peak at 540 nm (from memory)."""
SHAPES = ("band", "edge", "tail", "grey", "none")

EQUATIONS: dict[str, str] = {
    "dissolved": "absorbance = E x c x l / 10: E the absorbance of 10 g/l in 1 cm (E 1 %, 1 cm), c in g/l, l in cm (Beer-Lambert)",
    "seen": "R = Rg exp(-2 K d) in clear water: down d metres to the white of the tub (Rg) and back; with powder in it "
    "R = ((S - A Rg) t + B Rg) / ((A - S Rg) t + B), A = K + S, B = sqrt(K (K + 2 S)), t = tanh(B d) (Kubelka-Munk)",
    "heap": "R = 1 + k - sqrt(k^2 + 2 k), k = K / S (Kubelka-Munk, a layer too thick to see through)",
    "colour": "spectrum x daylight D65 x CIE 1931 2 degree observer -> XYZ -> sRGB; white on the screen is the dry white of the tub",
}

_WATER_NM_PER_M = (
    (380, 0.0114), (390, 0.0085), (400, 0.0066), (410, 0.0047), (420, 0.0045), (430, 0.0050), (440, 0.0064),
    (450, 0.0092), (460, 0.0098), (470, 0.0106), (480, 0.0127), (490, 0.0150), (500, 0.0204), (510, 0.0325),
    (520, 0.0409), (530, 0.0434), (540, 0.0474), (550, 0.0565), (560, 0.0619), (570, 0.0695), (580, 0.0896),
    (590, 0.1351), (600, 0.2224), (610, 0.2644), (620, 0.2755), (630, 0.2916), (640, 0.3108), (650, 0.340),
    (660, 0.410), (670, 0.439), (680, 0.465), (690, 0.516), (700, 0.624), (710, 0.827), (720, 1.231),
    (730, 1.97), (740, 2.4), (750, 2.47), (760, 2.55), (770, 2.36), (780, 2.07),
)  # fmt: skip
"""Pure water, per metre: Pope and Fry 1997, Applied Optics 36:8710, to 720 nm, then Smith and Baker 1981 (from memory)."""
WATER_PER_M: Array = np.interp(WAVELENGTHS_NM, *np.array(_WATER_NM_PER_M).T)


def _checked(name: str, value: Numbers) -> Array:
    array = np.asarray(value, dtype=float)
    if not np.all(np.isfinite(array) & (array >= 0)):
        raise ValueError(f"{name}: allowed are numbers, zero or more; read {value!r}")
    return array


def shape(kind: str, peak_nm: float = 0.0, short_nm: float = 1.0, long_nm: float = 1.0) -> Array:
    """How a colour takes light over WAVELENGTHS_NM, 1 where `peak_nm` stands.

    band: short_nm and long_nm are its half widths at half height; a Gaussian on the long side, a slower fall on the short
    side, where dyes have shoulders. edge: all on the short side of
    peak_nm, half at it (then 0.5 there), 12 % long_nm beyond. tail: falls by e every long_nm toward the red. grey: all
    alike. none: takes nothing. ValueError names an unknown kind.
    """
    away = WAVELENGTHS_NM - peak_nm
    if kind == "band":
        width, power = np.where(away < 0, short_nm, long_nm), np.where(away < 0, SHORT_SIDE, 2.0)
        return np.asarray(0.5 ** ((np.abs(away) / width) ** power))
    if kind == "edge":
        return np.asarray(1.0 / (1.0 + np.exp(away / (long_nm / 2))))
    if kind == "tail":
        return np.asarray(np.exp(-away / long_nm))
    if kind in ("grey", "none"):
        return np.full_like(WAVELENGTHS_NM, 1.0 if kind == "grey" else 0.0)
    raise ValueError(f"shape {kind!r} is not known; allowed are {', '.join(SHAPES)}")


def absorbance(mg_l: Numbers, e1pct_1cm: Numbers, path_cm: Numbers = 1.0) -> Numbers:
    """Decadic absorbance at the peak of a dissolved dye: E x c x l / 10 with c in g/l; broadcasts."""
    found: Numbers = (_checked("mg_l", mg_l) / 1000 * _checked("e1pct_1cm", e1pct_1cm) / 10 * path_cm)[()]
    return found


def absorbed_per_m(mg_l: Numbers, e1pct_1cm: Numbers) -> Numbers:
    """Light a dissolved dye takes at its peak, per metre, natural logarithm; broadcasts."""
    found: Numbers = np.log(10) * absorbance(mg_l, e1pct_1cm, 100.0)
    return found


def seen(absorbs_per_m: Numbers, throws_back_per_m: Numbers, depth_m: Numbers, floor: Numbers) -> Array:
    """Share of the light that comes back up from water over a floor of reflectance `floor`; all broadcast.

    absorbs_per_m and throws_back_per_m are K and S of Kubelka and Munk. Gloss of the water's face is left out. The path is
    taken as straight down and up.
    """
    k, s = _checked("absorbs_per_m", absorbs_per_m), _checked("throws_back_per_m", throws_back_per_m)
    depth, ground = _checked("depth_m", depth_m), np.asarray(floor, dtype=float)
    if np.any((ground < 0) | (ground > 1)):
        raise ValueError(f"floor: a share of light from 0 to 1 is allowed; read {floor!r}")
    a, b = k + s, np.sqrt(k * (k + 2 * s))
    x = b * depth
    # tanh(x)/b goes to the depth as b goes to nothing
    t = depth * np.divide(np.tanh(x), x, out=np.ones_like(x), where=x > 0)
    back = ((s - a * ground) * t + ground) / ((a - s * ground) * t + 1.0)
    return np.asarray(np.clip(back, 0.0, 1.0))


def heap(absorbs: Numbers, throws_back: Numbers) -> Array:
    """Share of light that a heap of powder throws back, from K and S in any one unit; broadcasts. S must be above 0."""
    ratio = _checked("absorbs", absorbs) / _checked("throws_back", throws_back)
    # the textbook 1 + k - sqrt(k^2 + 2k) loses all digits at large k; this is the same number
    return np.asarray(1.0 / (1.0 + ratio + np.sqrt(ratio * (ratio + 2.0))))


@cache
def _library() -> ModuleType:
    """The colour-science library, read when first needed: it takes half a second."""
    with warnings.catch_warnings():
        # it tells everybody who has no plotting library that its plots will not work; none are drawn here
        warnings.filterwarnings("ignore", message='"Matplotlib" related')
        return import_module("colour")


@cache
def _observer() -> Array:
    """Weights that turn a reflectance over WAVELENGTHS_NM into XYZ, Y = 1 for white; shape (wavelengths, 3)."""
    colour = _library()
    span = colour.SpectralShape(WAVELENGTHS_NM[0], WAVELENGTHS_NM[-1], WAVELENGTHS_NM[1] - WAVELENGTHS_NM[0])
    eye = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(span).values
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(span).values
    weights = np.asarray(eye * light[:, None], dtype=float)
    scaled: Array = weights / weights[:, 1].sum()
    return scaled


def xyz(reflectance: Array) -> Array:
    """CIE XYZ (Y = 1 for white) of spectra (..., wavelengths) in daylight D65, 2 degree observer; shape (..., 3)."""
    found: Array = reflectance @ _observer()
    return found


def srgb(reflectance: Array) -> Array:
    """sRGB, 0 to 1, of spectra (..., wavelengths); what a screen cannot show is cut to what it can."""
    return np.asarray(np.clip(_library().XYZ_to_sRGB(xyz(reflectance)), 0.0, 1.0))


def to_hex(rgb: Array) -> str:
    """One sRGB colour, 0 to 1, as "#rrggbb"."""
    return "#" + "".join(f"{round(255 * float(part)):02x}" for part in rgb)


def from_hex(colour: str) -> Array:
    """sRGB, 0 to 1, of "#rrggbb"."""
    parts: Array = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return parts


def oklch(rgb: Array) -> Array:
    """Lightness (0 to 1), chroma and hue angle (degrees) of sRGB (..., 3) in Oklab, where equal steps look equal."""
    colour = _library()
    lab = np.asarray(colour.XYZ_to_Oklab(colour.sRGB_to_XYZ(rgb)))
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    hue = np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) % 360.0
    return np.asarray(np.stack([lab[..., 0], chroma, hue], axis=-1))


def apart(rgb: Array, other: Array) -> Numbers:
    """How different two sRGB colours look: their distance in Oklab; about 0.02 is just seen side by side."""
    colour = _library()
    ones = np.asarray(colour.XYZ_to_Oklab(colour.sRGB_to_XYZ(rgb)))
    found: Numbers = np.sqrt(((ones - colour.XYZ_to_Oklab(colour.sRGB_to_XYZ(other))) ** 2).sum(axis=-1))
    return found
