"""Menus hurt at random, always the same ones: every promise of `fuzz_laws` holds for each.

`python -m tests.fuzz` tries as many more as there is time for.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from random import Random

import menu_samples as m
import pytest
from fuzz_changes import hurt
from fuzz_grammar import Grammar, sites
from fuzz_laws import LAWS, broken_by, checked, within
from fuzz_menus import seeds

from buildsheets.findings.finding import Finding, Fix, Severity, Span
from buildsheets.menu.model import SECTIONS, Menu
from buildsheets.menu.schema import keys_of
from buildsheets.pipeline import Checked

HERE = Path(__file__).parent


@pytest.mark.parametrize("first", range(0, 900, 150))
def test_hurt_menus_break_no_promise(first: int) -> None:
    found = {
        number: broken
        for number in range(first, first + 150)
        if (broken := broken_by(hurt(number), Random(number)))
    }
    assert not found


@pytest.mark.slow
@pytest.mark.parametrize("first", range(10_000, 13_000, 500))
def test_more_hurt_menus_with_every_promise_tried(first: int) -> None:
    found = {
        number: broken
        for number in range(first, first + 500)
        if (broken := broken_by(hurt(number), Random(number), often=3))
    }
    assert not found


def test_a_number_always_makes_the_same_menu() -> None:
    assert [hurt(number) for number in range(50)] == [hurt(number) for number in range(50)]
    assert len({str(hurt(number)) for number in range(200)}) > 190


@pytest.mark.slow
def test_findings_do_not_hang_on_the_seed_of_hashes() -> None:
    words = (
        "import sys; sys.path[:0] = sys.argv[1:]\n"
        "from fuzz_changes import hurt\n"
        "from fuzz_laws import checked\n"
        "print([checked(hurt(number)).findings for number in range(150)])\n"
    )
    told = [
        subprocess.run(
            [sys.executable, "-c", words, str(HERE), str(HERE.parent)],
            capture_output=True,
            check=True,
            cwd=HERE.parents[1],
            env={"PYTHONHASHSEED": seed, "PYTHONDONTWRITEBYTECODE": "1"},
        ).stdout
        for seed in ("1", "2")
    ]
    assert told[0] == told[1]
    assert len(told[0]) > 10_000


# The menus that are hurt, and how.


def test_the_small_menus_are_sound() -> None:
    found = [checked({"menu.yaml": seed}) for seed in seeds()]
    assert len(found) > 40
    assert not [one for each in found for one in m.said(each.findings) if " BUG01 " in one]
    assert sum(not one.stopped for one in found) > 0.8 * len(found)


def test_every_key_of_the_menu_is_hurt() -> None:
    random = Random(1)
    for record in {Menu, *SECTIONS.values()}:
        for key in keys_of(record).values():
            assert [Grammar(random, {"cups": ["large"]}).value(key) for _ in range(30)]


def test_records_are_found_at_every_depth() -> None:
    data = {"drinks": {"one": {"build": [{"add": "tea"}, {"do": "stir"}]}}, "shop": {}}
    found = {(site.path, site.record.__name__) for site in sites(data)}
    assert {
        ((), "Menu"),
        (("shop",), "Shop"),
        (("drinks", "one"), "Drink"),
        (("drinks", "one", "build", 0), "AddStep"),
        (("drinks", "one", "build", 1), "DoStep"),
    } <= found


def test_hurt_menus_reach_every_stage() -> None:
    """Else promises would be kept for want of anybody who asks."""
    reached = [checked(hurt(number)) for number in range(300)]
    assert sum(one.menu is None for one in reached) > 10
    assert sum(bool(one.servings) for one in reached) > 50
    assert sum(not one.stopped for one in reached) > 20
    assert len({finding.code for one in reached for finding in one.findings}) > 40
    assert sum(bool(finding.fixes) for one in reached for finding in one.findings) > 20


# The laws notice.

FILES = {"menu.yaml": m.SMALL}
HERE_SPAN = Span("menu.yaml", 2, 3, 2, 7)


def slip(**changes: object) -> Finding:
    found = Finding("KEY01", "name", Severity.ERROR, HERE_SPAN, "a slip")
    return replace(found, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("findings", "law"),
    [
        ((slip(code="BUG01"),), "BUG01"),
        ((slip(message=""),), "message"),
        ((slip(span=Span("other.yaml", 1, 1, 1, 1)),), "place"),
        ((slip(span=Span("menu.yaml", 2, 3, 2, 99)),), "place"),
        ((slip(span=Span("menu.yaml", 999, 1, 999, 1)),), "place"),
        ((slip(span=Span("menu.yaml", 2, 9, 2, 3)),), "place"),
        ((slip(message="b"), slip(message="a")), "sorted"),
        ((slip(),), "stable"),  # the second check does not find it
    ],
)
def test_what_breaks_a_promise_is_noticed(
    findings: tuple[Finding, ...], law: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    sound = checked(FILES)
    answers = iter([replace(sound, findings=findings)])
    monkeypatch.setattr("fuzz_laws.checked", lambda files: next(answers, sound))
    assert law in {one.law for one in broken_by(FILES, Random(1), often=100)}


@pytest.mark.parametrize(
    ("replacement", "law"),
    [("name", "fix"), ("[", "worse"), ("languages", "worse")],
)
def test_a_fix_that_does_not_work_is_noticed(
    replacement: str, law: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = {"menu.yaml": m.SMALL.replace("  name: Corner", "  naem: Corner")}
    (found,) = [one for one in checked(files).findings if one.code == "KEY01"]
    assert found.fixes
    bad = replace(found, fixes=(Fix("write", found.fixes[0].span, replacement),))
    stays = law == "fix"

    def with_bad(asked: dict[str, str]) -> Checked:
        real = checked(asked)
        hides = asked != files and not stays
        return real if hides else replace(real, findings=(bad,))

    monkeypatch.setattr("fuzz_laws.checked", with_bad)
    assert law in {one.law for one in broken_by(files, Random(1), often=100)}


def test_a_crash_and_an_endless_check_are_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    def crash(files: object) -> Checked:
        raise KeyError("x")

    monkeypatch.setattr("fuzz_laws.checked", crash)
    assert [one.law for one in broken_by(FILES, Random(1))] == ["crash"]

    def endless() -> None:
        while True:
            pass

    with pytest.raises(Exception, match="more than"), within(0.05):
        endless()


def test_all_laws_are_tried_in_turn() -> None:
    assert {name for name, _, _ in LAWS} == {"stable", "report", "fixes", "fixed", "other commands"}
