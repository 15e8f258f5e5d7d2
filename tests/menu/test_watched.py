"""Menu files that are looked at again and again: each change is told once, and whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from buildsheets.menu.files import SETTLE_S, WATCH_S, watched


def told(folder: Path, between: Iterator[Callable[[], object]]) -> list[str]:
    """The text of the menu's file each time it is told; each wait does what comes next."""
    waits: list[float] = []

    def wait(seconds: float) -> bool:
        waits.append(seconds)
        edit = next(between, None)
        if edit is not None:
            edit()
        return edit is None

    texts = ["".join(one.text for one in sources.values()) for sources, _ in watched(folder, wait)]
    assert set(waits) <= {SETTLE_S, WATCH_S}
    return texts


def nothing() -> None:
    pass


def test_a_change_is_told_once_until_it_is_over(tmp_path: Path) -> None:
    file = tmp_path / "menu.yaml"
    file.write_text("one", "utf-8")
    waits = [nothing, nothing, lambda: file.write_text("two", "utf-8"), nothing, nothing]
    assert told(tmp_path, iter(waits)) == ["one", "two"]


def test_a_file_that_is_being_written_is_told_when_it_is_whole(tmp_path: Path) -> None:
    file = tmp_path / "menu.yaml"
    file.write_text("one", "utf-8")

    def cut_short() -> None:
        file.write_text("", "utf-8")

    def finished() -> None:
        file.write_text("two", "utf-8")

    assert told(tmp_path, iter([nothing, cut_short, finished, nothing, nothing])) == ["one", "two"]
