"""Bytes and a path in; a file that is there whole or not at all, whatever happens, out."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path


def user_number() -> int:
    """The user's number, for names in a folder that all users share; 0 where the system has none,
    as on Windows, whose folders for temporary files are each user's own."""
    return os.getuid() if hasattr(os, "getuid") else 0


class Exists(FileExistsError):
    """The file is there already and is not to be written over."""


def write_whole(path: Path, data: bytes, replace: bool = True, durable: bool = False) -> None:
    """Write through a hidden neighbour, so that no reader ever sees a part of it.

    ``durable`` waits until the disk has it. With ``replace`` false, raises :class:`Exists` for a
    file that is already there, even one that another run made at the same moment.
    """
    partial = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    try:
        with partial.open("wb") as file:
            file.write(data)
            if durable:
                file.flush()
                os.fsync(file.fileno())
        if replace:
            partial.replace(path)
        else:
            _link(partial, path)
    except OSError as error:
        error.filename2 = str(path)  # the name that people know
        raise
    finally:
        partial.unlink(missing_ok=True)
    if durable:
        _sync_folder(path.parent)


def clear_partials(folder: Path) -> None:
    """Remove what killed runs left behind; call it only as the folder's sole writer."""
    for partial in folder.glob(".*.tmp"):
        partial.unlink(missing_ok=True)


def _link(partial: Path, path: Path) -> None:
    try:
        os.link(partial, path)  # fails if the file is there: nobody is overwritten
    except FileExistsError:
        raise Exists(f"{path} is there already") from None
    except OSError:  # a file system without hard links; the folder's lock keeps others out
        if path.exists():
            raise Exists(f"{path} is there already") from None
        partial.replace(path)


def _sync_folder(folder: Path) -> None:
    with contextlib.suppress(OSError):  # not every system can open a folder
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
