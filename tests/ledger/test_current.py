"""Whether a card on the wall may hang: by code, revision and day."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from edition_samples import AUTUMN, STEPS, WINTER, build, edition, published

from buildsheets.ledger.current import State, current
from buildsheets.ledger.ledger import Ledger, load
from buildsheets.ledger.payload import BYTES_AT_LEVEL_M, identity_in, link, offline_text
from buildsheets.print.qr import qr_code

FIX = (STEPS[0], replace(STEPS[1], amount="140", line="to 270 ml"), *STEPS[2:])
IN_AUTUMN, IN_WINTER = date(2026, 10, 5), date(2026, 12, 24)


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    published(tmp_path, [build(), build("old", "Old tea"), build("same", "Same tea")], AUTUMN)
    winter = [build(steps=FIX), build("dusk", "Dusk tea"), build("same", "Same tea")]
    published(tmp_path, winter, WINTER)
    return load(tmp_path)


@pytest.fixture
def code(ledger: Ledger) -> Callable[[str], str]:
    codes = {e.label.split(",")[0]: e.code for e in ledger.printed().values()}
    return codes.__getitem__


@pytest.mark.parametrize(
    ("label", "revision", "day", "state"),
    [
        ("Lantern milk tea", 1, IN_AUTUMN, State.CURRENT),
        ("Lantern milk tea", 1, IN_WINTER, State.SUPERSEDED),
        ("Lantern milk tea", 2, IN_AUTUMN, State.COMING),
        ("Lantern milk tea", 2, IN_WINTER, State.CURRENT),
        ("Lantern milk tea", 3, IN_WINTER, State.UNKNOWN),
        ("Old tea", 1, IN_AUTUMN, State.CURRENT),
        ("Old tea", 1, IN_WINTER, State.WITHDRAWN),
        ("Dusk tea", 1, IN_AUTUMN, State.COMING),
        ("Dusk tea", None, IN_AUTUMN, State.COMING),
        ("Same tea", 1, IN_WINTER, State.CURRENT),
        ("Old tea", None, IN_WINTER, State.WITHDRAWN),
        ("Lantern milk tea", None, IN_WINTER, State.CURRENT),
        ("Lantern milk tea", 1, date(2026, 8, 1), State.COMING),
    ],
)
def test_states(
    ledger: Ledger,
    code: Callable[[str], str],
    label: str,
    revision: int | None,
    day: date,
    state: State,
) -> None:
    text = code(label) if revision is None else f"{code(label)} r{revision}"
    assert current(text, ledger, day).state is state


def test_what_comes_next_and_until_when(ledger: Ledger, code: Callable[[str], str]) -> None:
    held = current(code("Lantern milk tea"), ledger, IN_AUTUMN)
    assert (held.until, held.next_from) == (date(2026, 11, 30), date(2026, 12, 1))
    assert held.next_entry is not None
    assert held.next_entry.revision == 2
    leaving = current(code("Old tea"), ledger, IN_AUTUMN)
    assert (leaving.next_from, leaving.next_entry) == (date(2026, 12, 1), None)
    staying = current(code("Same tea"), ledger, IN_AUTUMN)
    assert staying.next_from is None


def test_a_card_published_ahead_names_its_edition(
    ledger: Ledger, code: Callable[[str], str]
) -> None:
    held = current(f"{code('Lantern milk tea')} 2", ledger, IN_AUTUMN)
    assert held.coming is not None
    assert held.edition is not None
    assert (held.coming.revision, held.edition.code) == (2, "W26")
    assert current(f"{code('Lantern milk tea')} 1", ledger, IN_AUTUMN).edition is None


def test_a_card_published_ahead_says_what_follows_on_it(
    ledger: Ledger, code: Callable[[str], str]
) -> None:
    """Asked before the first season with two published: the second changes or drops the card."""
    early = date(2026, 8, 1)
    held = current(code("Lantern milk tea"), ledger, early)
    assert held.coming is not None
    assert held.next_entry is not None
    assert (held.coming.revision, held.next_entry.revision) == (1, 2)
    assert held.next_from == date(2026, 12, 1)
    leaving = current(code("Old tea"), ledger, early)
    assert (leaving.next_from, leaving.next_entry) == (date(2026, 12, 1), None)
    assert current(f"{code('Lantern milk tea')} 2", ledger, early).next_from is None


def test_a_withdrawn_card_still_has_its_name(ledger: Ledger, code: Callable[[str], str]) -> None:
    held = current(code("Old tea"), ledger, IN_WINTER)
    assert (held.now, held.label) == (None, "Old tea, Large")


def test_without_a_revision_a_code_of_one_revision_means_that(
    ledger: Ledger, code: Callable[[str], str]
) -> None:
    assert current(code("Same tea"), ledger, IN_WINTER).revision == 1
    assert current(code("Lantern milk tea"), ledger, IN_WINTER).revision is None


def test_past_the_last_edition_a_current_card_is_marked(
    ledger: Ledger, code: Callable[[str], str]
) -> None:
    assert not current(code("Same tea"), ledger, date(2027, 2, 28)).past_its_date
    assert current(code("Same tea"), ledger, date(2027, 3, 1)).past_its_date


def test_a_superseded_card_names_what_to_hang(ledger: Ledger, code: Callable[[str], str]) -> None:
    held = current(f"{code('Lantern milk tea')} 1", ledger, IN_WINTER)
    assert held.now is not None
    assert (held.now.code, held.now.revision) == (code("Lantern milk tea"), 2)


def test_an_old_revision_that_says_the_same_again_is_current(tmp_path: Path) -> None:
    for number, steps in enumerate((STEPS, FIX, STEPS)):
        which = edition(f"E{number}", f"2026-0{number + 1}-01", "2026-12-31")
        plan = published(tmp_path, [build(steps=steps)], which)
    held = current(f"{plan.cards[0].entry.code} r1", load(tmp_path), date(2026, 5, 1))
    assert held.state is State.CURRENT
    assert held.now is not None
    assert held.now.revision == 3


def test_a_mistyped_code_is_unknown_with_the_card_meant(
    ledger: Ledger, code: Callable[[str], str]
) -> None:
    right = code("Old tea")
    wrong = right[:3] + ("2" if right[3] != "2" else "3") + right[4:]
    held = current(wrong, ledger, IN_AUTUMN)
    assert held.state is State.UNKNOWN
    assert right in held.suggested
    assert held.reason
    assert current("", ledger, IN_AUTUMN).state is State.UNKNOWN


def test_what_a_code_holds_is_read_back(ledger: Ledger, code: Callable[[str], str]) -> None:
    card = code("Old tea")
    for site in ("https://tea.example", "https://tea.example/wall/", "http://x.example:8080"):
        assert identity_in(link(site, card, 12)) == (card, 12)
    text = offline_text(build().view, f"{card} revision 3 A26")
    assert identity_in(text) == (card, 3)
    assert identity_in(f" {card.lower()} ") == (card, None)
    for named in (f"{card}-12", f"{card.replace('-', '')}-12", f" {card.lower()}-12 "):
        assert identity_in(named) == (card, 12)  # as a page of the site is named


def test_a_link_packs_into_a_small_code() -> None:
    # ISO/IEC 18004 table 7: version 2 at level M holds 38 alphanumeric characters, 26 bytes.
    address = link("https://tea.example", "B-7K3QF-9", 2)
    assert 26 < len(address) <= 38
    assert qr_code(address).modules == 25 + 8
    assert link("https://tea.example/Wall", "B-7K3QF-9", 2).split("/C/")[0] == (
        "HTTPS://TEA.EXAMPLE/Wall"  # a path may mind its capitals
    )


@pytest.mark.parametrize("version", [1, 2, 3, 4, 5, 6])
@pytest.mark.parametrize("title", ["Tea", "Té ñandú " * 9, "百香果绿茶", "x" * 300])
def test_offline_text_fits_its_code_and_stops_at_a_whole_line(version: int, title: str) -> None:
    view = build(title=title).view
    text = offline_text(view, "B-7K3QF-9 revision 1 A26", version)
    assert len(text.encode()) <= BYTES_AT_LEVEL_M[version]
    whole = offline_text(view, "B-7K3QF-9 revision 1 A26", 10).split("\n")
    kept = [line for line in text.split("\n") if line != "..."]
    assert version < 2 or kept[0] == "B-7K3QF-9 revision 1 A26"
    if version > 1:
        assert kept[1:] == whole[1 : len(kept)] or "..." in whole


def test_capacities_are_the_standards() -> None:
    segno = pytest.importorskip("segno")  # an independent encoder
    for version, size in BYTES_AT_LEVEL_M.items():
        fits = segno.make_qr("a" * size, error="m", mode="byte", boost_error=False)
        over = segno.make_qr("a" * (size + 1), error="m", mode="byte", boost_error=False)
        assert (fits.version, over.version) == (version, version + 1)
