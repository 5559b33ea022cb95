"""Kitchens through every section against `review` in a loop: seconds, times as fast a draw, and the most memory held."""

from __future__ import annotations

import time
import tracemalloc
from dataclasses import replace

from fizzwright.catalogue import open_workshop
from fizzwright.demo import folder
from fizzwright.recipe.document import read_file
from fizzwright.recipe.weigh import weigh
from fizzwright.review import review_mix
from fizzwright.review.kitchen_through import through
from fizzwright.review.kitchens import draw
from fizzwright.review.setting import Setting

KITCHENS = 2**16
LOOPED = 12


def main() -> None:
    """Print what 65 536 kitchens take; asked: at most 2 s, 200 times a loop of reviews, 1 GiB."""
    catalogue, workshop = open_workshop(folder())
    for name in ("orchard_rain", "lantern"):
        recipe = read_file(folder() / "recipes" / f"{name}.toml", catalogue)
        mix = weigh(recipe, catalogue, lot_analyses=workshop.lot_analyses)
        setting = Setting(workshop)
        through(mix, catalogue, setting, 2**10)
        seconds = []
        for _ in range(3):
            start = time.perf_counter()
            through(mix, catalogue, setting, KITCHENS)
            seconds.append(time.perf_counter() - start)
        # the loop reviews each kitchen's own grams, as one would without draws
        grams = draw(mix, catalogue, setting, count=2**7).mix.draws_g[:LOOPED]
        review_mix(mix, catalogue, workshop)
        start = time.perf_counter()
        for own in grams:
            review_mix(replace(mix, grams=own), catalogue, workshop)
        looped = (time.perf_counter() - start) / LOOPED
        tracemalloc.start()
        through(mix, catalogue, setting, KITCHENS)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        best = min(seconds)
        print(
            f"kitchens, {name} ({len(mix.lines)} lines), {KITCHENS} through every section but the erosion: {best:.2f} s (asked at "
            f"most 2); {looped * KITCHENS / best:.0f} times as fast a draw as a loop of reviews (asked at least 200); "
            f"{peak / 2**20:.0f} MiB at most (asked below 1024)"
        )


if __name__ == "__main__":
    main()
