"""What is known of a menu while it is written: the newest sound one, and what was just saved."""

from __future__ import annotations

from pathlib import Path

import pytest
from menu_samples import SMALL, swapped
from preview_samples import Asked

from buildsheets.findings.finding import Source
from buildsheets.pipeline import linked
from buildsheets.preview.watch import Dated, Known, Watch, drinks_saved

TOO_MUCH = swapped(SMALL, "amount: 200 ml", "amount: 600 ml")
UNDECLARED = swapped(SMALL, "    contains: [milk]\n", "")


def told_by(asked: Asked, monkeypatch: pytest.MonkeyPatch) -> list[Known]:
    """Everything that becomes known from now on."""
    told: list[Known] = []
    tell = Watch._tell

    def noting(self: Watch, now: Dated, *, whole: bool) -> None:
        tell(self, now, whole=whole)
        told.append(self.known)

    monkeypatch.setattr(Watch, "_tell", noting)
    monkeypatch.setattr("buildsheets.preview.watch.PAGE_S", 0.0)
    asked.watch.seen(1)
    return told


def test_a_sound_menu_is_shown_and_one_with_an_error_leaves_the_older(tmp_path: Path) -> None:
    asked = Asked.of(tmp_path / "menu")
    first = asked.watch.known
    assert first.sound is first.now
    assert not first.older
    for text in (TOO_MUCH, UNDECLARED, "drinks: [", ""):
        asked.save(text)
        known = asked.watch.known
        assert known.older
        assert known.sound is first.now
        assert known.number > first.number
    asked.save(swapped(SMALL, "amount: 200 ml", "amount: 190 ml"))
    assert asked.watch.known.sound is asked.watch.known.now


def test_a_menu_that_never_was_sound_has_nothing_to_show(tmp_path: Path) -> None:
    asked = Asked.of(tmp_path / "menu", UNDECLARED)
    assert asked.watch.known.sound is None
    assert "There is nothing to show yet: mend the errors first." in asked.words("/en/")
    assert asked.get("/en/card/build/cloud/medium").status_code == 404


def test_a_saved_drink_is_judged_first_and_the_whole_menu_then(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = Asked.of(tmp_path / "menu")
    told = told_by(asked, monkeypatch)
    asked.save(swapped(SMALL, "amount: 200 ml", "amount: 190 ml"))
    assert [known.whole for known in told] == [False, True]
    assert told[0].sound is told[0].now
    asked.save(TOO_MUCH)
    assert [known.older for known in told[2:]] == [True, True]
    assert "FIT01" in {one.code for one in told[2].now.checked.findings}


def test_what_another_drink_trips_takes_back_what_was_shown_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The rules of the whole menu have the last word, whatever the quick look said."""
    asked = Asked.of(tmp_path / "menu")
    settled = asked.watch.known.sound
    told = told_by(asked, monkeypatch)
    monkeypatch.setattr("buildsheets.preview.watch.drinks_saved", lambda before, now: {"cloud"})
    asked.save(TOO_MUCH)  # in the drink that is not looked at first
    assert [known.older for known in told] == [False, True]
    assert told[-1].sound is settled


@pytest.mark.parametrize(
    ("old", "new", "saved"),
    [
        ("fill_to: 380 ml", "fill_to: 370 ml", {"cloud"}),
        ("      - {do: stir, for: 5 s}\n", "", {"cloud"}),
        ("    name: Shaken\n", "    name: Shaken twice\n    # why\n", {"shaken"}),
        ("count: 4}", "count: 5}", None),  # the day's sales
        ("price: 1.05", "price: 1.10", None),  # what every drink is made of
        ("  shaken:\n", "  stirred:\n", None),  # another drink
        ("accent: \"#0b5563\"", "accent: \"#0b5564\"", None),
        ("  cloud:\n", "  cloud:  # best seller\n", None),  # beside a drink: looked at whole
    ],
)  # fmt: skip
def test_what_differs_is_told_by_the_text(old: str, new: str, saved: set[str] | None) -> None:
    text = SMALL.replace(old, new, 1)
    assert text != SMALL
    before, now = (linked({"menu.yaml": Source("menu.yaml", one)}) for one in (SMALL, text))
    assert drinks_saved(before, now) == saved


def test_a_fault_of_our_own_is_told_and_the_watch_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = Asked.of(tmp_path / "menu")

    def broken(*_: object) -> None:
        raise RuntimeError("not today")

    with monkeypatch.context() as patched:
        patched.setattr("buildsheets.preview.watch.linked", broken)
        asked.save(SMALL)
    assert asked.watch.known.older
    assert "BUG01" in asked.words("/en/")
    asked.save(SMALL)
    assert not asked.watch.known.older
