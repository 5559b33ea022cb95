"""Reading 10,000 recipe documents, as a ratio to tomlkit's own parse time on the same documents (at most 3)."""

import random
from time import perf_counter

import tomlkit

from fizzwright.catalogue import load
from fizzwright.recipe.document import read_text
from fizzwright.recipe.weigh import weigh

COUNT = 10_000
AT_MOST = 3.0


def documents(count: int) -> list[str]:
    """That many different documents of 4 to 20 lines, the same on every run."""
    rng = random.Random(2026)
    catalogue = load()
    dry = [m.id for m in catalogue.materials.values() if m.bulk_density_loose_g_ml_typ is not None]
    oils = list(catalogue.oils)
    texts = []
    for number in range(count):
        rows = [f'name = "Pebbles {number}"', 'kind = "fizzer"  # the plain kind', 'measures = "metric"']
        rows += ["[makes]", 'mould = "sphere_65"', f"count = {rng.randint(1, 40)}", "[tub]", "litres = 150"]
        for use in rng.sample(dry, rng.randint(2, 16)):
            rows += ["[[line]]", f'use = "{use}"', f'amount = "{rng.randint(1, 900)} g"']
        for use in rng.sample(oils, rng.randint(2, 4)):
            rows += ["[[line]]", f'use = "{use}"', f'amount = "{rng.randint(1, 30)} drops"  # last of all']
        texts.append("\n".join(rows) + "\n")
    return texts


def main() -> bool:
    """Print the ratios; True when the promise holds."""
    catalogue = load()
    texts = documents(COUNT)
    start = perf_counter()
    recipes = [read_text(text, catalogue) for text in texts]
    ours = perf_counter() - start
    start = perf_counter()
    for text in texts:
        tomlkit.parse(text)
    theirs = perf_counter() - start
    ratio = ours / theirs
    print(f"reading {COUNT} documents: {ours:.2f} s = {ratio:.2f} x tomlkit.parse ({theirs:.1f} s); asked at most 3 x")
    largest = max(recipes, key=lambda recipe: len(recipe.lines))
    weigh(largest, catalogue)
    start = perf_counter()
    for _ in range(200):
        weigh(largest, catalogue)
    print(f"weighing {len(largest.lines)} lines, 1024 draws: {(perf_counter() - start) * 5:.2f} ms warm")
    return ratio <= AT_MOST


if __name__ == "__main__":
    raise SystemExit(0 if main() else 1)
