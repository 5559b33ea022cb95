"""Writing a maker's files so that nothing already saved can be lost: whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from fizzwright.refusal import Refusal


def write_bytes(path: Path, data: bytes) -> None:
    """Put data at path in one move: the old file stays until the new one is complete on disk."""
    # a link stays a link: what it points to is written
    path = path.resolve()
    if path.exists() and not path.stat().st_mode & 0o222:
        raise Refusal(f"{path.name}: this file is marked read-only, and it was left alone. Allow writing to it first.")
    if path.is_dir():
        raise Refusal(f"{path}: this is a folder. Name a file to write.")
    if not path.parent.is_dir():
        raise Refusal(f"{path}: the folder {path.parent} is not there. Make it first, or name another.")
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    except OSError as error:
        raise Refusal(f"{path}: cannot write in this folder ({error.strerror}). Nothing was changed.") from error
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        # mkstemp makes files only their owner may read; keep what the maker's folder would have given.
        umask = os.umask(0)
        os.umask(umask)
        Path(name).chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~umask)
        Path(name).replace(path)
    except OSError as error:
        raise Refusal(f"{path}: could not be written ({error.strerror}). What was there is unchanged.") from error
    finally:
        with contextlib.suppress(FileNotFoundError):
            Path(name).unlink()


def write_pdf(path: Path, data: bytes) -> None:
    """Put a PDF at path; only a PDF may be written over."""
    if path.suffix.lower() != ".pdf":
        raise Refusal(f"{path}: this would hold a PDF. Give a name that ends in .pdf.")
    if path.is_file():
        with path.open("rb") as file:
            if file.read(5) != b"%PDF-":
                raise Refusal(f"{path}: this file is no PDF, and it was left alone. Give another name.")
    write_bytes(path, data)


def write_text(path: Path, text: str) -> None:
    """Put a text at path in one move, UTF-8, line ends as given."""
    write_bytes(path, text.encode("utf-8"))


def write_new(path: Path, text: str) -> None:
    """Put a text at a path where nothing is yet; refuse to write over a file."""
    if path.exists():
        raise Refusal(f"{path}: there is already a file of this name, and it was left alone. Give another name.")
    write_text(path, text)
