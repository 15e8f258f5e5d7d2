"""Working folders with a menu in them; commands that are given the same menu share one check."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_samples import demo_copy
from menu_samples import SMALL, check_once


@pytest.fixture(autouse=True)
def checked_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("buildsheets.pipeline.check", check_once)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty working folder, and a cache of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path


@pytest.fixture
def kiosk(folder: Path) -> Path:
    """A working folder with a menu of two drinks in it."""
    (folder / "menu").mkdir()
    (folder / "menu" / "menu.yaml").write_text(SMALL, "utf-8")
    return folder


@pytest.fixture
def shop(folder: Path) -> Path:
    """The demo's menu in a working folder, by the same name in every test, so that it is checked
    once."""
    return demo_copy(Path("menu"))
