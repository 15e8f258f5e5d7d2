"""Fixes that findings carry, written into the menu: what is fixed, what is left, what is kept."""

from __future__ import annotations

import re
from pathlib import Path

import menu_samples as m
import pytest
from command_samples import run, snapshot
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.cli.fixing import diff, fixed
from buildsheets.findings.finding import Source
from buildsheets.menu import files
from buildsheets.pipeline import check_sources

# An owner's slips on a Sunday night, and what was meant.
SLIPS = [
    ("    price: 4.00\n    add_ons", "    price: {medium: 4,00, tall: 4,50}\n    add_ons"),
    ("price: 0.60", "price: 0,60"),
    ("amount: 100 ml", "ammount: 100 ml"),
    ("{add: tea, fill_to: 380 ml}", "{add: tea, fill_to: 380 mll}   # to the line"),
    ("{do: stir, for: 5 s}", "{do: stirr, for: 5 s}"),
    ("valid_from: 2026-03-01", "valid_from: 2026-3-1"),
    ("    lid: film", "    lid: flim"),
    ("currency: EUR", "curency: EUR"),
    ("height: 114 mm", "height: 11,4 cm"),
    ("topping: pearls,", "topping: perls,"),
    ("with_less_ice: same_line", "keep: line"),
    ("drinks:\n  cloud:", "drinks:\n  Cloud:"),
    ("brix: 65 °Bx", "brix: 65"),
    ("packing: 55 %", "packing: 55"),
    ("    name: Shaken\n", "\tname: Shaken\n"),
    ("    name: Tall\n", "    name:Tall\n"),
    ("{do: shake, pour", "{do:shake, pour"),
    ('    opens: "10:00"\n', '    opens: "10:00\n'),
]


def menu_of(text: str) -> dict[str, Source]:
    return {"menu.yaml": Source("menu.yaml", text)}


@pytest.mark.parametrize(("right", "wrong"), SLIPS, ids=[wrong for _, wrong in SLIPS])
def test_each_usual_slip_is_fixed(right: str, wrong: str) -> None:
    text = m.swapped(m.SMALL, right, wrong).replace("drink: Cloud", "drink: cloud")
    assert check_sources(menu_of(text)).findings
    after, changes = fixed(menu_of(text))
    assert changes
    assert m.said(check_sources(after).findings) == []


def test_all_of_them_at_once_and_nothing_else_changes() -> None:
    text = m.SMALL + "# the end\n"
    for right, wrong in SLIPS:
        text = m.swapped(text, right, wrong)
    after, changes = fixed(menu_of(text))
    assert m.said(check_sources(after).findings) == []
    old, new = text.split("\n"), after["menu.yaml"].text.split("\n")
    assert len(old) == len(new)
    touched = {number for number, (a, b) in enumerate(zip(old, new, strict=True), 1) if a != b}
    assert touched == {change.span.line for change in changes}
    assert "   # to the line" in after["menu.yaml"].text
    shown = diff(menu_of(text), after)
    assert shown.startswith("--- menu.yaml\n+++ menu.yaml\n")
    assert "\n-      - {do: stirr, for: 5 s}\n" in shown
    assert "\n+      - {do: stir, for: 5 s}\n" in shown


FOAM = (
    "ice:\n  cubes",
    "  foam: {from: milk, behaves: floated, overrun: 100 %, tool: jug, station: bar}\n"
    "ice:\n  cubes",
)
STIR = "      - {do: stir, for: 5 s}\n"
FOAMED = "      - {add: foam, amount: 5 g}\n"
LID = "      - {do: lid}\n"

# Slips that leave the owner a choice: what was written, the code and words that tell it, the words
# that tell what works, and the same edit with these taken.
CHOICES = {
    "too much in the cup": (
        [("amount: 200 ml", "amount: 600 ml")],
        "FIT01", "178.5 ml too much", "strong: take 430 ml (was 600 ml)",
        [("amount: 200 ml", "amount: 430 ml")],
    ),
    "a floating topping stirred under": (
        [FOAM, (STIR, FOAMED + STIR + LID)],
        "ORD01", "step 7 (stir) would sink it", "",
        [FOAM, (STIR, STIR + FOAMED + LID)],
    ),
    "no word on allergens": (
        [("    contains: [milk]\n", "")],
        "KEY02", "`milk` lacks `contains`", "contains: allergens it contains; write [] only when",
        [],
    ),
    "a drink written twice": (
        [("  shaken:\n", "  cloud:\n"), ("drink: shaken", "drink: cloud")],
        "TXT11", "the key cloud stands here a second time", "give one another name",
        [],
    ),
    "two drinks of one name": (
        [("name: Shaken", "name: Cloud")],
        "DRK11", "are both called 'Cloud'", "say in the name what tells them apart",
        [("name: Shaken", "name: Cloud, shaken")],
    ),
    "counted with another tool": (
        [("add: sweet, amount: 2 pumps}\n", "add: sweet, amount: 2 scoops}\n")],
        "TOOL02", "'2 scoops' of 'sweet', which is measured with 'pump'", "or write ml or g",
        [("add: sweet, amount: 2 pumps}\n", "add: sweet, amount: 10 ml}\n")],
    ),
}  # fmt: skip


def edited(edits: list[tuple[str, str]]) -> str:
    text = m.SMALL
    for right, wrong in edits:
        text = text.replace(right, wrong, 1)
    return text


@pytest.mark.parametrize("slip", CHOICES)
def test_a_slip_with_a_choice_says_what_works(slip: str) -> None:
    edits, code, told, works, taken = CHOICES[slip]
    found = next(f for f in check_sources(menu_of(edited(edits))).findings if f.code == code)
    assert told in found.message
    assert works in "\n".join((found.hint, *(fix.text for fix in found.fixes)))
    assert code not in {one.code for one in check_sources(menu_of(edited(taken))).findings}


def test_tabs_all_through_a_file_are_fixed_at_once() -> None:
    """As deep as they were: the menu is then the same, key by key."""
    text = re.sub("^(  )+", lambda two: "\t" * (len(two[0]) // 2), m.SMALL, flags=re.M)
    (found,) = check_sources(menu_of(text)).findings
    assert (found.code, len(found.fixes)) == ("TXT09", 1)
    after, changes = fixed(menu_of(text))
    assert m.said(check_sources(after).findings) == []
    assert [str(change) for change in changes] == [
        f"menu.yaml:2:1: lines 2 to {len(m.SMALL.splitlines())} (TXT09)"
    ]
    assert after["menu.yaml"].text == m.SMALL


def test_many_of_one_kind_are_told_as_one_and_switched_off_in_one_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    bare = re.sub(r"    nutrition: \{[^}]*\}\n", "", m.SMALL)
    (tmp_path / "menu.yaml").write_text(bare, "utf-8")
    said = run(capsys, "check", "menu.yaml").out
    assert said.count("NUT01") == 1
    assert "and 3 more of this kind:" in said
    allowed = "allow: [{finding: NUT01, at: all, reason: no figures yet}]\n"
    (tmp_path / "menu.yaml").write_text(bare + allowed, "utf-8")
    assert "NUT01" not in run(capsys, "check", "menu.yaml").out


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("price: 0.60", "price: 1,500"),  # 1.5 or 1500
        ("quantity: 1000 l, price", "quantity: 1,000 l, price"),
        ("amount: 100 ml", "amount: 4 oz"),  # a mass or a volume
    ],
)
def test_a_choice_is_left_to_the_owner(right: str, wrong: str) -> None:
    sources = menu_of(m.swapped(m.SMALL, right, wrong))
    (found,) = check_sources(sources).findings
    assert len(found.fixes) == 2
    assert fixed(sources) == (sources, [])


def test_two_names_as_near_are_a_choice() -> None:
    text = m.swapped(m.SMALL, "{from: cane, tool: pump", "{from: cane, tool: jump")
    (found,) = check_sources(menu_of(text)).findings
    assert [fix.replacement for fix in found.fixes] == ["pump"]
    both = m.swapped(
        text, "  pump: {name", "  jumq: {name: x, kind: jug, step: 1 ml}\n  pump: {name"
    )
    (found,) = check_sources(menu_of(both)).findings
    assert {fix.replacement for fix in found.fixes} == {"pump", "jumq"}
    assert fixed(menu_of(both))[1] == []


def test_what_an_allergen_was_meant_to_be_is_never_guessed() -> None:
    text = m.swapped(m.SMALL, "contains: [milk]", "contains: [mlk]")
    (found,) = check_sources(menu_of(text)).findings
    assert (found.code, found.fixes[0].replacement) == ("ALG03", "milk")
    assert fixed(menu_of(text)) == (menu_of(text), [])


def test_how_much_goes_into_a_cup_is_shown_and_never_written() -> None:
    """One amount works, and what a guest gets is the owner's to say."""
    text = m.swapped(m.SMALL, "{add: strong, amount: 200 ml", "{add: strong, amount: 600 ml")
    (found,) = (one for one in check_sources(menu_of(text)).findings if one.code == "FIT01")
    assert [fix.replacement for fix in found.fixes] == ["430 ml"]
    assert fixed(menu_of(text)) == (menu_of(text), [])


@pytest.mark.parametrize("line_break", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_the_bytes_around_a_fix_stay(
    line_break: str,
    mark: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    right = mark + m.SMALL.replace("\n", line_break)
    wrong = m.swapped(right, "{do: stir, for", "{do: stirr, for")
    (tmp_path / "menu").mkdir()
    file = tmp_path / "menu" / "menu.yaml"
    file.write_bytes(wrong.encode())
    ran = run(capsys, "check", "--fix")
    assert ran.code == 0, ran
    place = ":".join(map(str, m.place_of(m.SMALL, "{do: stir")))
    line, column = place.split(":")
    assert f"menu/menu.yaml:{line}:{int(column) + 5}: stirr is now stir (VAL06)" in ran.out
    assert "1 fix written\n" in ran.out
    assert file.read_bytes() == right.encode()


def test_a_link_to_a_menu_file_stays_a_link(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "kept.yaml").write_text(m.swapped(m.SMALL, "{do: stir, ", "{do: stirr, "), "utf-8")
    (tmp_path / "menu").mkdir()
    (tmp_path / "menu" / "menu.yaml").symlink_to(tmp_path / "kept.yaml")
    assert run(capsys, "check", "--fix").code == 0
    assert (tmp_path / "menu" / "menu.yaml").is_symlink()
    assert (tmp_path / "kept.yaml").read_text("utf-8") == m.SMALL


def test_diff_alone_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "menu.yaml").write_text(m.swapped(m.SMALL, "lid: film", "lid: flim"), "utf-8")
    before = snapshot(tmp_path)
    ran = run(capsys, "check", "menu.yaml", "--diff")
    assert ran.code == 1  # the files are as they were
    assert "-    lid: flim\n+    lid: film\n" in ran.out
    assert snapshot(tmp_path) == before
    both = run(capsys, "check", "menu.yaml", "--diff", "--fix")
    assert both.code == 0
    assert "+    lid: film\n" in both.out
    assert run(capsys, "check", "menu.yaml", "--diff").out.startswith("2 drinks")


def test_what_cannot_be_fixed_safely_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    wrong = m.swapped(m.SMALL, "lid: film", "lid: flim")
    (tmp_path / "menu.yaml").write_bytes(wrong.replace("Cloud", "Clöud").encode("cp1252"))
    before = snapshot(tmp_path)
    ran = run(capsys, "check", "menu.yaml", "--fix")
    assert (ran.code, ran.err) == (
        1, "nothing was fixed, since a file cannot be read as it was written\n"
    )  # fmt: skip
    monkeypatch.setattr(files, "standard_input", lambda: wrong.encode())
    assert run(capsys, "check", "-", "--fix").code == 2
    assert "+    lid: film" in run(capsys, "check", "-", "--diff").out
    assert snapshot(tmp_path) == before


def test_what_is_left_to_choose_is_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    wrong = m.swapped(m.SMALL, "lid: film", "lid: flim")
    wrong = m.swapped(wrong, "amount: 100 ml", "amount: 4 oz")
    (tmp_path / "menu.yaml").write_text(wrong, "utf-8")
    ran = run(capsys, "check", "menu.yaml", "--fix", "--format", "json")
    assert ran.data["counts"]["error"] == 1
    assert ran.err.endswith("1 fix written; 1 left for you to choose\n")


@given(st.data())
def test_any_menu_with_letters_lost_is_fixed_without_a_crash(data: st.DataObject) -> None:
    """And never made worse: what is written brings no error of its own kind."""
    text = m.SMALL
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text) - 2))
        text = text[:at] + text[at + 1 :]
    before = check_sources(menu_of(text))
    after, changes = fixed(menu_of(text))
    assert (after == menu_of(text)) == (not changes)
    # A slip that is mended shows those it hid, of other kinds; of its own no more than were mended.
    kinds = {change.code for change in changes}
    old, new = (
        [one for one in checked.findings if one.code in kinds]
        for checked in (before, check_sources(after))
    )
    assert len(new) <= len(old) + len(changes)
