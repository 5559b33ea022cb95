"""The house: imports go down only, and the science knows nothing of the rest."""

from importlinter.cli import lint_imports


def test_no_import_climbs():
    # exhaustive = true in pyproject.toml makes a room without a floor fail as well
    assert lint_imports() == 0
