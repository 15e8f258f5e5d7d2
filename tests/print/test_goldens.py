"""Golden views of demo cards, and a few golden pictures with tolerance.

A view is what a reader sees, in words; it is compared exactly. A picture is compared loosely, since
text rasterisers differ: what must not change is where things stand. After a wanted change, write
them anew with ``BUILDSHEETS_GOLDENS=write pytest tests/print/test_goldens.py`` and look at them.
"""

from __future__ import annotations

import os
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from card_samples import BUILD, BUILD_ES, STATION
from menu_samples import check_once
from PIL import Image, ImageChops, ImageFilter

from buildsheets.pipeline import Checked
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import render_pdf
from buildsheets.views.build import build_view
from buildsheets.views.station import station_view

ROOT = Path(__file__).parents[2]
GOLDENS = ROOT / "tests" / "goldens"
WRITING = os.environ.get("BUILDSHEETS_GOLDENS") == "write"
DPI = 60


@pytest.fixture(scope="module")
def demo() -> Checked:
    return check_once(ROOT / "menu")


def lines(value: Any, name: str, indent: str = "") -> list[str]:
    """A view as an outline that a person can read a change in."""
    if is_dataclass(value):
        found = [f"{indent}{name}"]
        for field in fields(value):
            found += lines(getattr(value, field.name), field.name, indent + "  ")
        return found
    if isinstance(value, tuple) and any(
        is_dataclass(one) or isinstance(one, tuple) for one in value
    ):
        found = []
        for number, one in enumerate(value, start=1):
            found += lines(one, f"{name} {number}", indent)
        return found
    return [f"{indent}{name}: {value!r}"]


def compared(name: str, said: str) -> None:
    golden = GOLDENS / f"{name}.txt"
    if WRITING:
        golden.write_text(said, "utf-8")
    assert said.splitlines() == golden.read_text("utf-8").splitlines()


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize(
    ("drink", "cup"),
    [("boathouse-pearl", "medium"), ("frost-lemon", "large"), ("honey-lantern", "hot")],
)
def test_build_views(demo: Checked, drink: str, cup: str, language: str) -> None:
    assert demo.menu is not None
    (serving,) = [s for s in demo.servings if (s.drink.id, s.cup.id) == (drink, cup)]
    view = build_view(demo.menu, serving, Layouts().words(language))
    compared(f"build-{drink}-{cup}-{language}", "\n".join(lines(view, "build card")) + "\n")


@pytest.mark.parametrize("station", ["toppings", "brew", "shake", "finish"])
def test_station_views(demo: Checked, station: str) -> None:
    menu = demo.menu
    assert menu is not None
    words = Layouts().words("en")
    view = station_view(menu, menu.stations[station], menu.cups["small"], demo.servings, words)
    compared(f"station-{station}-small-en", "\n".join(lines(view, "station card")) + "\n")


@pytest.mark.parametrize(
    ("name", "view"), [("build", BUILD), ("build-es", BUILD_ES), ("station", STATION)]
)
def test_pictures(name: str, view: Any) -> None:
    document = pypdfium2.PdfDocument(render_pdf([view]).pdf)
    picture = document[0].render(scale=DPI / 72, grayscale=True).to_pil().convert("L")
    document.close()
    golden = GOLDENS / f"{name}.png"
    if WRITING:
        picture.save(golden, optimize=True)
    held = Image.open(golden)
    assert picture.size == held.size
    blurred = [one.filter(ImageFilter.GaussianBlur(1.0)) for one in (picture, held)]
    apart = ImageChops.difference(*blurred).histogram()
    # One other digit leaves some ten blurred pixels further apart than 40 grey levels.
    assert sum(apart[40:]) < 5
