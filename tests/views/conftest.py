"""The demo menu, checked once for all tests of views."""

from __future__ import annotations

from pathlib import Path

import pytest
from menu_samples import check_once

from buildsheets.menu.model import Menu
from buildsheets.pipeline import Checked


@pytest.fixture(scope="session")
def checked() -> Checked:
    return check_once(Path(__file__).parents[2] / "menu")


@pytest.fixture(scope="session")
def menu(checked: Checked) -> Menu:
    assert checked.menu is not None
    return checked.menu
