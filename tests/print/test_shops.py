"""Shops unlike the demo, all their cards printed and proofed: US and imperial measures, litre
pitchers, hot drinks only, no options, one station, names of 60 characters, 15 steps."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_samples import run
from pdf_reading import page_texts

SHOPS = Path(__file__).parent.parent / "menus" / "shops"
# Prices and nutrition, which no card shows, and what is done to stay legible.
LEFT_OPEN = ("COST01", "NUT01", "STM02")

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(
    ("shop", "cards", "file", "said", "unsaid"),
    [
        ("us", 26, "S26/en/batch-cards/black-tea.pdf", ("200 °F (93 °C)", "41 °F"), ()),
        ("imperial-hot", 11, "W26/en/build-cards/mug.pdf",
         ("hot ·", "8 fl oz", "until grown by 25%"), ("ice", "Sweetness", "Add-ons",
          "in the pitcher")),  # 1 fl oz grows to 1¼, between two marks of its jug
        ("pitchers", 8, "S26/de/build-cards/big.pdf", ("1.600", "Umrühren"), ("Süße",)),
        ("long", 8, "W26/en/build-cards/medium.pdf",
         ("Serve", "Smoked Valley Tea with Sour Plum, Dark Pearls and Farm Milk"), ()),
    ],
)  # fmt: skip
def test_every_card_of_a_shop_passes_the_proof(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    shop: str,
    cards: int,
    file: str,
    said: tuple[str, ...],
    unsaid: tuple[str, ...],
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    menu = SHOPS / f"{shop}.yaml"
    ran = run(capsys, "print", menu, "--out", tmp_path / "out", "--format", "short")
    assert ran.code == 0, ran.out[-2000:]
    found = [line for line in ran.out.splitlines() if f"{menu.name}:" in line]
    assert [line for line in found if not any(code in line for code in LEFT_OPEN)] == []
    assert f", {cards} cards (" in ran.out
    pages = page_texts((tmp_path / "out" / file).read_bytes())
    text = " ".join(" ".join(pages).split())
    for words in said:
        assert words in text
    for words in unsaid:
        assert words not in text


def test_fifteen_steps_stand_on_the_card_in_their_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    words = ("--only", "build", "--out", tmp_path / "out", "--format", "short")
    assert run(capsys, "print", SHOPS / "long.yaml", *words).code == 0
    pages = page_texts((tmp_path / "out/W26-build/en/build-cards/medium.pdf").read_bytes())
    assert len(pages) == 2
    at = -1
    text = "\n".join(pages)
    for step in ("Swirl", "Shake 10 s", "Rest", "Stir", "Wipe the cup", "Flat lid on", "Serve"):
        assert (at := text.index(step, at + 1)) > 0
