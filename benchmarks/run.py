"""Print the measured ratios: `make bench`. Each speed is told against a named peer timed in the same run."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from reading import main as reading

from fizzwright.catalogue import open_workshop
from fizzwright.demo import folder
from fizzwright.recipe.document import read_file
from fizzwright.review import review

BIN = Path(sys.executable).parent


def best_of(runs: int, work: Callable[[], object]) -> float:
    """Median of the faster half of the runs, in seconds: what the machine does when nothing disturbs it."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(sorted(times)[: max(1, runs // 2)])


def warm_review() -> None:
    """The largest demo recipe, reviewed warm; asked: at most 15 ms."""
    catalogue, workshop = open_workshop(folder())
    recipes = [read_file(path, catalogue) for path in sorted((folder() / "recipes").glob("*.toml"))]
    largest = max(recipes, key=lambda recipe: len(recipe.lines))
    review(largest, catalogue, workshop)
    seconds = best_of(60, lambda: review(largest, catalogue, workshop))
    print(f"review, warm, {largest.name} ({len(largest.lines)} lines): {1000 * seconds:.1f} ms; asked at most 15 ms")


def cold_help() -> None:
    """fizzwright --help against importing numpy, both cold; asked: at most 3 times."""
    subprocess.run([BIN / "fizzwright", "--help"], check=True, stdout=subprocess.DEVNULL)
    ours = best_of(15, lambda: subprocess.run([BIN / "fizzwright", "--help"], check=True, stdout=subprocess.DEVNULL))
    peer = best_of(15, lambda: subprocess.run([sys.executable, "-c", "import numpy"], check=True))
    print(
        f"fizzwright --help: {1000 * ours:.0f} ms = {ours / peer:.2f} x python -c 'import numpy' ({1000 * peer:.0f} ms); asked at most 3 x"
    )


if __name__ == "__main__":
    warm_review()
    cold_help()
    reading()
