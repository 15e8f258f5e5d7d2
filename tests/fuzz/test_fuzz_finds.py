"""What hurt menus brought to light, each as it was found, so that it stays mended."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from random import Random

import menu_samples as m
import pytest
from fuzz_changes import Files
from fuzz_laws import LAWS, MOST_S, broken_by, checked, within, written

from buildsheets.findings.finding import Severity
from buildsheets.pipeline import Checked

COARSE = (  # the next step of the tool is more than any cup holds
    "jug: {name: jug, kind: jug, step: 5 ml",
    "jug: {name: jug, kind: jug, step: 10000 ml",
)


def no_promise_is_broken(files: Files) -> None:
    """By any law, and by several fixes, which are taken by chance."""
    assert broken_by(files, Random(0), often=100) == []
    (fixes,) = [law for name, law, _ in LAWS if name == "fixes"]
    first = checked(files)
    assert [one for seed in range(1, 5) for one in fixes(first, files, Random(seed))] == []


@pytest.mark.parametrize(
    ("edits", "code"),
    [
        ((COARSE,), "FIT05"),
        ((("step: 1/2 scoop", "step: 5 kg"),), "FIT05"),
        # a batch at a scale of which no shop can figure anything
        (
            (
                (
                    "    lead: milk\n",
                    "    lead: milk\n    bowl: 1 l\n    scales: {full: 99999999}\n",
                ),
            ),
            "RNG01",
        ),
        # a cup that holds less than what must stay empty, and so nothing of the line either
        ((("height: 150 mm, diameter", "height: 3 mm, diameter"),), "FIT08"),
        # 15 digits, where no figure takes more than 12
        ((("fat_g: 3.3", "fat_g: 999999999999999"),), "VAL03"),
    ],
)
def test_what_was_found_breaks_no_promise(edits: tuple[tuple[str, str], ...], code: str) -> None:
    files = m.edited({"menu.yaml": m.SMALL}, *edits)
    assert code in {one.code for one in checked(files).findings}
    no_promise_is_broken(files)


def test_a_step_larger_than_the_cup_is_not_offered() -> None:
    files = m.edited({"menu.yaml": m.SMALL}, COARSE)
    coarse = [one for one in checked(files).findings if one.code == "FIT05"]
    assert coarse
    assert all("10000" not in fix.text for one in coarse for fix in one.fixes)


TWO_LINES = (  # the second line is passed before anything is poured up to it
    ("    cups: [medium, tall, poured]\n", "    cups: [medium]\n"),
    ("count: {medium: 5, tall: 3}", "count: {medium: 5}"),
    (
        "fill_to: 380 ml}\n",
        "fill_to: 430 ml}\n"
        "      - {add: cubes, amount: 1 scoop}\n"
        "      - {add: tea, fill_to: 440 ml}\n",
    ),
)


def test_the_fix_of_a_line_brings_no_line_that_is_passed() -> None:
    """What was passed before may stay so, at another level; nothing is passed that was not."""

    def passed(found: Checked) -> list[tuple[str, ...]]:
        return [one.subject for one in found.findings if one.code == "FIT02"]

    files = m.edited({"menu.yaml": m.SMALL}, *TWO_LINES)
    first, tried = checked(files), 0
    assert passed(first)
    for fix in (fix for one in first.findings if one.code == "FIT01" for fix in one.fixes):
        after = checked(written(files, fix))
        assert not Counter(passed(after)) - Counter(passed(first)), fix.text
        tried += "pour only to" in fix.text
    assert tried
    no_promise_is_broken(files)


def test_a_line_over_the_rim_of_a_hot_and_iced_drink_is_told_with_a_fix() -> None:
    """Its steps have amounts in the cups of their own build alone."""
    text = (Path(__file__).parent.parent / "wall" / "menus" / "hot-and-iced.yaml").read_text(
        "utf-8"
    )
    cups = re.sub(r"fill_to: [0-9.]+ ml", "fill_to: 2000 ml", text)
    hurt = re.sub(r"(fill_to: \{[a-z]+: )[0-9.]+ ml", r"\g<1>2000 ml", cups)
    codes = Counter(one.code for one in checked({"menu.yaml": hurt}).findings)
    assert codes["FIT08"]
    assert not codes["BUG01"]


def test_thousands_of_slips_are_found_in_bounded_time() -> None:
    """The time grew with the square of their number."""
    drinks = "".join(f"  d{n}: {{name: x, cups: [larg], price: x}}\n" for n in range(3000))
    with within(MOST_S):
        found = checked({"menu.yaml": m.SMALL.replace("drinks:\n", f"drinks:\n{drinks}")})
    assert sum(one.severity is Severity.ERROR for one in found.findings) >= 6000


def test_thousands_of_anchors_on_a_line_are_found_in_bounded_time() -> None:
    anchors = ", ".join(f"&a{n} x" for n in range(20_000))
    with within(MOST_S):
        found = checked({"menu.yaml": f"shop: [{anchors}]\n"})
    assert sum(one.code == "TXT12" for one in found.findings) == 20_000
