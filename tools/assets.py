"""Put what npm and the wheels brought where the pages and papers look for it: run once at set-up, output never committed.

Fonts arrive as WOFF2 for the browser; typst reads TrueType, so the same files are unpacked for it.
"""

from pathlib import Path
from shutil import copyfile

from fontTools.ttLib import TTFont

ROOT = Path(__file__).resolve().parent.parent
MODULES = ROOT / "node_modules"
VENDOR = ROOT / "src/fizzwright/web/static/vendor"
PAPER_FONTS = ROOT / "src/fizzwright/papers/fonts"
FACES = [
    f"ibm-plex-sans-{script}-{weight}-normal"
    for script in ("latin", "latin-ext", "greek", "cyrillic")
    for weight in (400, 600)
]


def main() -> None:
    """Copy the scripts, copy the web fonts, unpack the paper fonts."""
    VENDOR.mkdir(parents=True, exist_ok=True)
    PAPER_FONTS.mkdir(parents=True, exist_ok=True)
    copyfile(MODULES / "htmx.org/dist/htmx.min.js", VENDOR / "htmx.min.js")
    for face in FACES:
        woff = MODULES / f"@fontsource/ibm-plex-sans/files/{face}.woff2"
        copyfile(woff, VENDOR / woff.name)
        font = TTFont(woff)
        font.flavor = None
        # typst picks one file a family, so each script needs a family of its own; the licence of the font also asks
        # that changed files drop its reserved name
        script = face.removeprefix("ibm-plex-sans-").rsplit("-", 2)[0]
        for record in font["name"].names:
            if record.nameID in (1, 4, 16):
                record.string = f"Fizzwright {script}"
        font.save(PAPER_FONTS / f"{face}.ttf")


if __name__ == "__main__":
    main()
