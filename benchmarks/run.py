"""Print the measured ratios: `make bench`. Each speed is told against a named peer timed in the same run."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from bath_water import main as bath_water
from compose import main as compose
from forecast import main as forecast
from kitchen import main as kitchen
from reading import main as reading
from runaway import main as runaway

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
    """The largest demo recipe, reviewed warm, the dissolved piece kept from before as in the workbench."""
    catalogue, workshop = open_workshop(folder())
    recipes = [read_file(path, catalogue) for path in sorted((folder() / "recipes").glob("*.toml"))]
    largest = max(recipes, key=lambda recipe: len(recipe.lines))
    review(largest, catalogue, workshop)
    seconds = best_of(60, lambda: review(largest, catalogue, workshop))
    print(f"review, warm, {largest.name} ({len(largest.lines)} lines): {1000 * seconds:.1f} ms")


def typing() -> None:
    """A change of the bath answered by the workbench, page and all; asked: at most 300 ms."""
    import shutil
    import tempfile
    import warnings

    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

    from fizzwright.web.app import create_app
    from fizzwright.web.forms import of_document

    with tempfile.TemporaryDirectory() as place:
        workshop = Path(shutil.copytree(folder(), Path(place) / "quillmoor"))
        client = TestClient(create_app(workshop), base_url="http://127.0.0.1:8765")
        text = (workshop / "recipes" / "two_tides.toml").read_text(encoding="utf-8")
        form = of_document(text, "")
        fields = {name: value for name, value in form.values.items() if value}
        fields |= {"loaded": text, "good": text, "lines": str(len(form.lines))}
        for i, line in enumerate(form.lines):
            named = {"use": line.use, "amount": line.amount, "part": line.part, "diluted_in": line.diluted_in}
            fields |= {f"line-{i}-{key}": value for key, value in named.items()} | {f"line-{i}-was": str(i)}
        litres = iter(range(90, 2000))

        def change() -> None:
            answer = client.post("/recipes/two_tides/look", data=fields | {"litres": str(next(litres))})
            assert answer.status_code == 200 and "figure-tub-fizz_seconds" in answer.text

        change()
        print(f"workbench, a change of the bath: {1000 * best_of(20, change):.0f} ms; asked at most 300 ms")


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
    typing()
    cold_help()
    reading()
    bath_water()
    runaway()
    forecast()
    kitchen()
    compose()
