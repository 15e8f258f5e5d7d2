"""A key and finished bytes in; the same bytes, or nothing, out: never wrong ones.

The cache can be deleted at any time. Every entry carries its own digest, so that a file cut short
or damaged counts as missing; every write is whole or not at all.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from buildsheets.print.files import user_number, write_whole

_DIGEST_BYTES = 32


@dataclass(frozen=True, slots=True)
class Cache:
    """Finished work by key, under ``folder``."""

    folder: Path

    def get(self, key: str) -> bytes | None:
        """What was kept under ``key``; ``None`` if nothing, or nothing sound, is there."""
        path = self._path(key)
        try:
            held = path.read_bytes()
        except OSError:
            return None
        digest, data = held[:_DIGEST_BYTES], held[_DIGEST_BYTES:]
        if hashlib.sha256(key.encode() + data).digest() != digest:
            with contextlib.suppress(OSError):
                path.unlink()
            return None
        return data

    def put(self, key: str, data: bytes) -> None:
        """Keep ``data`` under ``key``. A disk that takes no more is no error: it is a cache."""
        path = self._path(key)
        with contextlib.suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(path, hashlib.sha256(key.encode() + data).digest() + data)

    def trim(self, limit_bytes: int) -> None:
        """Delete the entries longest unread or unwritten until the rest fits."""
        with contextlib.suppress(OSError):
            entries = [(path, path.stat()) for path in self.folder.glob("??/*")]
            room = limit_bytes
            for path, stat in sorted(entries, key=lambda e: -max(e[1].st_mtime, e[1].st_atime)):
                room -= stat.st_size
                if room < 0:
                    path.unlink(missing_ok=True)

    def _path(self, key: str) -> Path:
        name = hashlib.sha256(key.encode()).hexdigest()
        return self.folder / name[:2] / name[2:]


def user_cache() -> Path:
    """The folder the user's system keeps caches in (XDG Base Directory Specification)."""
    try:
        home = Path.home()
    except RuntimeError:  # a user without a name and a home, as in some containers
        home = Path(tempfile.gettempdir()) / f"home-{user_number()}"
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA", home / "AppData" / "Local"))
    elif sys.platform == "darwin":
        base = home / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache")
    return base / "buildsheets"
