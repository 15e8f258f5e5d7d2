"""A ledger written by the revision before the rooms were moved is read, compared and continued.

``editions`` is of a one-drink menu, in two editions, with what ``compare`` then said of them in
``changes.txt``; ``samples`` is of cards that :mod:`edition_samples` still makes.
"""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from edition_samples import AUTUMN, STEPS, WINTER, build, edition, published, station, with_steps

from buildsheets.compare.compare import compare, side_of_edition
from buildsheets.compare.report import as_text, report_of
from buildsheets.ledger.current import State, current
from buildsheets.ledger.edition_words import edition_words
from buildsheets.ledger.ledger import load
from buildsheets.print.layouts import Layouts
from buildsheets.site.site import site_files

BEFORE = Path(__file__).parent / "written_before"
EN = edition_words(Layouts(), "en")


def test_it_is_read_and_compared_as_it_was_then() -> None:
    ledger = load(BEFORE / "editions")
    assert not ledger.findings
    assert [edition.code for edition in ledger.editions] == ["S26", "A26"]
    comparison = compare(*(side_of_edition(ledger, one) for one in ledger.editions))
    assert as_text(report_of(comparison, EN), EN) == (BEFORE / "changes.txt").read_text("utf-8")


def test_its_cards_are_known_and_have_pages() -> None:
    ledger = load(BEFORE / "editions")
    day = date(2026, 11, 5)
    assert current("B-SNE94-2 r1", ledger, day).state is State.SUPERSEDED
    assert current("B-SNE94-2 r2", ledger, day).state is State.CURRENT
    assert current("P-0D26Q-X r1", ledger, day).state is State.CURRENT  # the same in both
    pages = site_files(ledger, day, "Corner kiosk", "en", Layouts())
    assert b"Cumulus, Medium" in pages["C/BSNE942-2/index.html"]


def test_it_is_continued(tmp_path: Path) -> None:
    folder = tmp_path / "editions"
    shutil.copytree(BEFORE / "samples", folder)
    now = [with_steps(build(), *STEPS[:2]), station()]
    cards = published(folder, now, edition("S27", "2027-03-01", "2027-05-31"))
    ledger = load(folder)
    assert not ledger.findings
    assert [one.number for one in ledger.editions] == [1, 2, 3]
    assert [one.entry.revision for one in cards.cards] == [3, 1]
    assert [one.entry.since for one in cards.cards] == ["S27", "A26"]


@pytest.mark.parametrize("name", ["2026-09-01-A26.yaml", "2026-12-01-W26.yaml"])
def test_the_same_cards_give_the_same_file(tmp_path: Path, name: str) -> None:
    """All but what it was made with: codes, digests, texts and form stay."""
    more = replace(STEPS[1], amount="140", line="to 270 ml")
    published(
        tmp_path, [build(), build(language="es", title="Té farol"), station()], AUTUMN, parts=2
    )
    published(tmp_path, [with_steps(build(), more), station()], WINTER)
    assert without_versions(tmp_path / name) == without_versions(BEFORE / "samples" / name)


def without_versions(path: Path) -> str:
    text = re.sub(r"made_with:\n(  .*\n)+", "", path.read_text("utf-8"))
    return re.sub(r"(# sha256|follows:) .*\n", "", text)
