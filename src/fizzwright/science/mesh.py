"""Moulds drawn as a mesh: the volume of a watertight STL, or a clear word on why it cannot be trusted."""

from __future__ import annotations

from pathlib import Path


class MeshRefused(ValueError):  # noqa: N818 - it is a refusal, not a fault of ours
    """A mesh whose inside cannot be measured; the message says what was found and what to do."""


def mesh_volume_ml(path: str | Path) -> float:
    """Volume in ml inside a watertight STL drawn in mm."""
    raise MeshRefused(f"{path}: reading meshes comes with the next commit")
