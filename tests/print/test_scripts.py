"""Cards in Arabic, Hebrew, Thai and Japanese: printed, proofed, and laid out as they are read."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pypdfium2
import pytest

from buildsheets.print.checks import letters, parted
from buildsheets.proof.page import Page, Place

ROOT = Path(__file__).parent.parent
MENU = ROOT / "menus" / "four-scripts"

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The menu printed: each of its cards passed the proof, which looks for every text."""
    out = tmp_path_factory.mktemp("scripts")
    words = ["print", str(MENU), "--out", str(out), "--no-cache", "--format", "short"]
    ran = subprocess.run(
        [sys.executable, "-m", "buildsheets", *words], capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stdout[-3000:] + ran.stderr[-3000:]
    assert "60 cards" in ran.stdout
    return out / "W26"


@pytest.fixture
def page(printed: Path) -> Callable[[str], Page]:
    return lambda name: Page(pypdfium2.PdfDocument(printed / name)[0], 100)


def first(page: Page, text: str) -> Place:
    return min(page.find(text), key=lambda place: place.box.top)


@pytest.mark.parametrize(
    ("language", "pearls", "limit"),
    [("ar", "لؤلؤ التابيوكا", "حد الملء"), ("he", "פניני טפיוקה", "גבול מילוי")],
)
def test_a_card_from_right_to_left_is_mirrored_but_for_its_gauge(
    page: Callable[[str], Page], language: str, pearls: str, limit: str
) -> None:
    card = page(f"{language}/build-cards/small.pdf")
    what = first(card, pearls)
    number = next(one for one in card.texts if one.text.strip() == "1" and one.box.left > 130)
    assert number.box.is_beside(what.box)
    assert what.box.right < number.box.left
    assert min(place.box.left for place in card.find(limit)) < 12  # beside the marks, at the left
    sheet = page(f"{language}/gauge-cards/small.pdf")
    label = [one.box for one in sheet.texts if one.box.is_beside(first(sheet, limit).box)]
    assert min(box.left for box in label) < 12


def test_numbers_keep_their_figures_in_order(page: Callable[[str], Page]) -> None:
    card = page("ar/build-cards/small.pdf")
    assert card.find("230 مل")
    assert not card.find("032 مل")
    assert not card.find("شاي أخضر")


def test_a_latin_name_is_kept_together_in_a_sentence(page: Callable[[str], Page]) -> None:
    """It would draw a number behind it to its side: "1.97 l · 1900 g" became "l · 1900 1.97"."""
    texts = [one.text.replace("\u00a0", " ") for one in page("he/batch-cards/black-tea.pdf").texts]
    assert any("1.97 l" in text for text in texts)
    assert any("1900 g" in text for text in texts)


def test_thai_am_can_be_copied(page: Callable[[str], Page]) -> None:
    said = "".join(word.letters for word in page("th/build-cards/small.pdf").words)
    assert letters("น้ำแข็ง") in said
    assert parted("น้ำ") == "นํ้า"


def test_japanese_is_set_in_the_face_the_shop_names(page: Callable[[str], Page]) -> None:
    fonts = {one.font.name for one in page("ja/build-cards/small.pdf").texts}
    assert {name.removesuffix("-Bold") for name in fonts} == {
        "Atkinson-Hyperlegible",
        "Noto-Sans-CJK-JP",
    }
