"""What every test may use: the catalogue, the demo workshop in a folder of its own, and the hypothesis profiles."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from fizzwright.catalogue import Catalogue, load
from fizzwright.demo import copy_to

settings.register_profile("quick", max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("soak", max_examples=3000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("soak" if os.environ.get("FIZZWRIGHT_SOAK") else "quick")


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    return load()


@pytest.fixture
def quillmoor(tmp_path: Path) -> Path:
    """A fresh copy of the demo workshop."""
    folder = tmp_path / "quillmoor"
    copy_to(folder)
    return folder
