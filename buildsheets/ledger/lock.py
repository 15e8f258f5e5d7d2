"""A folder in; the sole right to write into it, held until released or until the process ends."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

WAIT_S = 5.0


class Busy(RuntimeError):
    """Another run holds the folder."""


@contextmanager
def sole_writer(folder: Path, wait_s: float = WAIT_S) -> Iterator[None]:
    """Hold the folder's lock; the operating system frees it even when the process is killed.

    Raises :class:`Busy` when another run still holds it after ``wait_s`` seconds.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / ".lock").open("a+b") as file:
        give_up = time.monotonic() + wait_s
        while not _try_lock(file.fileno()):
            if time.monotonic() >= give_up:
                raise Busy(f"another run is writing in {folder}")
            time.sleep(0.05)
        yield


def _try_lock(descriptor: int) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):  # the second is what Windows says
        return False
    return True
