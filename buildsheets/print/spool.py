"""Prints by name in; the same out again, held in memory or, once there are many, on disk."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Mapping
from typing import Generic, TypeVar

T = TypeVar("T")

IN_MEMORY_BYTES = 16_000_000
"""What is held in memory before it goes to a temporary file: several times a usual menu's cards."""


class Spool(Mapping[str, T], Generic[T]):
    """Values that are bytes or are read from them; each is read anew when it is asked for."""

    def __init__(self, read: Callable[[bytes], T]) -> None:
        self._read = read
        self._at: dict[str, tuple[int, int]] = {}  # where each begins, and how long it is
        self._file = tempfile.SpooledTemporaryFile(IN_MEMORY_BYTES)  # noqa: SIM115 - ends with us

    def put(self, name: str, data: bytes) -> None:
        """Hold ``data`` under a name."""
        self._at[name] = self._file.seek(0, 2), len(data)
        self._file.write(data)

    @property
    def size_bytes(self) -> int:
        """What all of them take."""
        return sum(length for _, length in self._at.values())

    def __getitem__(self, name: str) -> T:
        begin, length = self._at[name]
        self._file.seek(begin)
        return self._read(self._file.read(length))

    def __iter__(self) -> Iterator[str]:
        return iter(self._at)

    def __len__(self) -> int:
        return len(self._at)
