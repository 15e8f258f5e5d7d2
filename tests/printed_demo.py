"""The demo menu published and printed once, for all tests that look at what comes out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pypdf
from command_samples import ROOT, Ran, demo_copy, own_process

from buildsheets import output
from buildsheets.cli.edition_answers import cards_for_print
from buildsheets.ledger.lock import sole_writer
from buildsheets.ledger.publish import EditionCards, Issuer
from buildsheets.pipeline import Checked, check
from buildsheets.place import Place
from buildsheets.views.card import CardKey

MM_PER_POINT = 25.4 / 72


@dataclass(frozen=True)
class Shop:
    """A working folder with ``menu/``, ``out/`` and a cache; ``printed`` is how the print went."""

    folder: Path
    cache: Path
    printed: Ran

    @property
    def menu(self) -> Path:
        return self.folder / "menu"

    @property
    def out(self) -> Path:
        return self.folder / "out" / "W26"

    def run(self, *words: object, first: str = "") -> Ran:
        """A command in this folder, with this cache, in a process of its own."""
        env = {"XDG_CACHE_HOME": str(self.cache), "PYTHONPATH": str(ROOT)}
        return own_process(*words, cwd=self.folder, env=env, first=first)

    def pdfs(self) -> dict[str, Path]:
        """The printed files by their path within the edition's folder."""
        found = sorted(self.out.rglob("*.pdf"))
        return {path.relative_to(self.out).as_posix(): path for path in found}


def planned(menu: Path) -> tuple[Checked, EditionCards]:
    """The cards of a menu with their codes and revisions, as they stand to its ledger."""
    checked = check(menu)
    assert checked.menu is not None
    place = Place.of(menu)
    cards = output.cards(checked.menu, checked.servings, place.layouts)
    issuer = Issuer(checked.menu.shop.site, place.layouts)
    plan, findings = cards_for_print(cards, menu, checked.menu.edition, issuer)
    assert findings == ()
    return checked, plan


def print_once(folder: Path) -> Shop:
    """Publish and print the demo in ``folder``, unless a process beside this one has done it."""
    said = folder / "printed.json"
    with sole_writer(folder, wait_s=600):
        shop = Shop(folder, folder / "cache", Ran(0, "", ""))
        if not said.exists():
            demo_copy(shop.menu)
            published = shop.run("publish")
            assert published.code == 0, published
            ran = shop.run("print")
            said.write_text(f"{ran.code}\0{ran.out}\0{ran.err}", "utf-8")
    code, out, err = said.read_text("utf-8").split("\0")
    return Shop(folder, shop.cache, Ran(int(code), out, err))


@dataclass(frozen=True)
class Page:
    """A printed page: its file, the card it is of, and its size in mm."""

    file: str
    number: int
    code: str
    width_mm: float
    height_mm: float


def pages(file: str, path: Path) -> Iterator[Page]:
    """The pages of a printed file; each has a bookmark that begins with its card's code."""
    reader = pypdf.PdfReader(path)
    marks = {
        reader.get_destination_page_number(mark): str(mark.title)
        for mark in reader.outline
        if not isinstance(mark, list)
    }
    for number, page in enumerate(reader.pages):
        code = re.match(r"\S+", marks[number])
        assert code
        width, height = (float(side) * MM_PER_POINT for side in page.mediabox[2:])
        yield Page(file, number, code[0], width, height)


class Printed:
    """What is asked of the printed demo more than once."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop

    @cached_property
    def pages(self) -> list[Page]:
        return [page for file, path in self.shop.pdfs().items() for page in pages(file, path)]

    @cached_property
    def plan(self) -> EditionCards:
        return planned(self.shop.menu)[1]

    @cached_property
    def keys(self) -> dict[str, CardKey]:
        """Card code to what it is a card of."""
        return {one.entry.code: one.card.key for one in self.plan.cards}
