"""All stages together: clean menus, many mistakes in one run, sections that cannot be read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import menu_samples as m
import pytest

from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding, Severity
from buildsheets.menu.model import Menu
from buildsheets.pipeline import check
from buildsheets.rules.registry import RULES, Rule


def codes(findings: Sequence[Finding]) -> list[str]:
    return sorted(finding.code for finding in findings)


def test_the_demo_menu_is_clean() -> None:
    checked = check(m.DEMO)
    assert m.said(checked.findings) == []
    assert not checked.stopped
    assert checked.menu is not None
    assert {(s.drink.id, s.cup.id) for s in checked.servings} == {
        (drink.id, cup.id) for drink in checked.menu.drinks.values() for cup in drink.cups
    }


def test_one_file_reads_as_a_folder_does() -> None:
    joined = "\n".join(m.demo().values())
    assert m.said(m.check_texts(joined).findings) == []


MENUS = Path(__file__).parent / "menus"


@pytest.mark.parametrize(
    ("name", "warned"), [("not-printable.yaml", {"FIT10"}), ("shifted-table.yaml", set())]
)
def test_a_shops_menu_with_former_keys_is_read_with_notes_that_rewrite_it(
    name: str, warned: set[str]
) -> None:
    """One of them has 3 pumps, of which its pump cannot make 50 %."""
    checked = check(MENUS / name)
    assert {f.code for f in checked.findings if f.severity is not Severity.NOTE} == warned
    assert len(checked.servings) > 0
    former = [f for f in checked.findings if f.code == "KEY03"]
    assert len(former) == 2  # make_up and keep
    files = {name: (MENUS / name).read_text("utf-8")}
    for finding in former:
        files = m.applied(files, finding.fixes[0])
    rewritten = m.check_texts(files)
    assert codes(rewritten.findings) == codes([f for f in checked.findings if f.code != "KEY03"])
    assert rewritten.menu is not None
    assert checked.menu is not None
    for menu in (checked.menu, rewritten.menu):
        assert menu.options is not None
        assert menu.options.sweetness is not None
        assert menu.options.ice is not None
        assert menu.options.sweetness.with_less_sweet == "more_base"
        assert menu.options.ice.with_less_ice == "same_line"


def test_a_path_that_is_not_there_is_a_finding() -> None:
    checked = check(m.DEMO / "nothing-here.yaml")
    assert codes(checked.findings) == ["TXT01"]
    assert checked.menu is None
    assert checked.stopped


# Ten mistakes of ten kinds: what stands in the small menu, what is written instead, the code that
# must be reported, and the text its place starts with.
TEN = [
    ("languages: [en]", "languages: &both [en]", "TXT12", "&both"),
    ("letter: S,", "leter: S,", "KEY01", "leter"),
    ("tools:\n", "tools:\n  whisk: {name: whisk, kind: jug, step: 5 mll}\n", "VAL08", "5 mll"),
    ("{topping: pearls", "{topping: perls", "REF01", "perls"),
    ("{height: 0 mm, diameter: 60 mm}", "{height: 5 mm, diameter: 60 mm}", "CUP03", "profile"),
    ("ingredients:\n", "ingredients:\n  mint: {name: Mint}\n", "KEY02", "mint:"),
    ('accent: "#0b5563"', 'accent: "#a0d0e0"', "STN05", '"#a0d0e0"'),
    ("amount: 200 ml", "amount: 600 ml", "FIT01", "{do: shake"),
    ("fill_to: 380 ml", "fill_to: 80 ml", "FIT02", "80 ml}"),
    ("{drink: shaken, count: 4}", "{drink: shakn, count: 4}", "REF01", "shakn"),
]


def test_ten_mistakes_of_ten_kinds_are_all_reported_in_one_run_at_their_places() -> None:
    files = m.edited(sections(), *[(right, wrong) for right, wrong, _, _ in TEN])
    findings = m.check_texts(files).findings
    reported = {(f.code, m.name_of(f.span), *m.starts(f.span)) for f in findings if f.span}
    expected = set()
    for _, wrong, code, mark in TEN:
        (name,) = [name for name, text in files.items() if wrong in text]
        after = wrong if mark in wrong else ""
        expected.add((code, name, *m.place_of(files[name], mark, after)))
    assert len(expected) == 10
    assert reported == expected, m.said(findings)


SECTIONS = [
    "shop", "edition", "stations", "tools", "cups", "ingredients", "batches", "bases",
    "sweeteners", "toppings", "ice", "options", "add_ons", "drinks", "days",
]  # fmt: skip


def sections() -> dict[str, str]:
    """The small menu, one file a section."""
    files: dict[str, str] = {}
    for line in m.SMALL.splitlines(keepends=True):
        if not line.startswith(" "):
            name = line.split(":")[0]
            files[f"{name}.yaml"] = ""
        files[f"{name}.yaml"] += line
    return files


@pytest.mark.parametrize("section", SECTIONS)
@pytest.mark.parametrize("value", ["5", "[a, b]", "'"])
def test_a_section_that_cannot_be_read_is_the_only_finding(section: str, value: str) -> None:
    files = sections() | {f"{section}.yaml": f"{section}: {value}\n"}
    findings = m.check_texts(files).findings
    assert len(findings) == 1, m.said(findings)
    assert findings[0].span is not None
    assert m.name_of(findings[0].span) == f"{section}.yaml"


@pytest.mark.parametrize("section", ["shop", "edition", "stations", "cups", "bases", "drinks"])
def test_a_section_that_is_not_there_is_the_only_finding(section: str) -> None:
    files = {name: text for name, text in sections().items() if name != f"{section}.yaml"}
    findings = m.check_texts(files).findings
    assert codes(findings) == ["KEY02"], m.said(findings)
    assert section in findings[0].message


@pytest.mark.parametrize("section", SECTIONS)
def test_the_rest_is_checked_when_a_section_cannot_be_read(section: str) -> None:
    elsewhere = "stations" if section == "tools" else "tools"
    mistakes = {
        "stations": ('accent: "#0b5563"', "accent: teal", "STN03"),
        "tools": ("step: 5 ml, tolerance: 2 ml", "step: 0 ml, tolerance: 2 ml", "RNG01"),
    }
    right, wrong, code = mistakes[elsewhere]
    files = m.edited(sections(), (right, wrong)) | {f"{section}.yaml": f"{section}: 5\n"}
    assert codes(m.check_texts(files).findings) == sorted(["VAL01", code])


@pytest.mark.parametrize(
    ("right", "wrong", "code"),
    [
        ("allergen_list: eu14", "allergen_list: eu15", "VAL06"),
        ("languages: [en]", "languages: [en, [es]]", "VAL01"),
        ("shelf_rules: us-food-code", "shelf_rules: usa", "VAL06"),
        ("shelf_rules: us-food-code", "shelf_rules: custom\n  rule_days: some", "VAL03"),
        ("  name: Corner kiosk\n", "", "KEY02"),
        ("valid_to: 2026-09-30", "valid_to: 30.9.2026", "VAL05"),
        ("measures: metric", "measures: metrc", "VAL06"),
    ],
)
def test_one_wrong_key_of_the_shop_brings_no_other_finding(
    right: str, wrong: str, code: str
) -> None:
    findings = m.check_texts(m.swapped(m.SMALL, right, wrong)).findings
    assert codes(findings) == [code], m.said(findings)


def test_no_allergen_is_called_unknown_when_the_list_could_not_be_read() -> None:
    text = m.swapped(m.SMALL, "allergen_list: eu14", "allergen_list: us10")
    text = m.swapped(text, "contains: [milk]", "contains: [tree-nuts, almonds]")
    assert codes(m.check_texts(text).findings) == ["VAL06"]


def test_the_other_keys_of_a_shop_with_a_wrong_one_still_count() -> None:
    text = m.swapped(m.SMALL, "allergen_list: eu14", "allergen_list: us9")
    text = m.swapped(text, "card: A5", "card: A55")
    text = m.swapped(text, "contains: [milk]", "contains: [tree-nuts, almonds]")
    assert codes(m.check_texts(text).findings) == ["SHP02"]


def allowing(text: str, code: str, at: str, reason: str | None = "the owner tried it") -> str:
    line = f"  - {{finding: {code}, at: {at}" + (f", reason: {reason}}}" if reason else "}")
    return f"{text}allow:\n{line}\n"


PALE = m.swapped(m.SMALL, "    lid: flat\n", "    lid: flat\n    brimful: 540 ml\n")
"""The small menu with one warning: CUP05 at medium, whose inside holds 505 ml."""


def test_a_warning_is_accepted_with_a_reason() -> None:
    assert codes(m.check_texts(PALE).findings) == ["CUP05"]
    assert codes(m.check_texts(allowing(PALE, "CUP05", "medium")).findings) == []


def test_an_acceptance_that_is_idle_is_a_finding_at_its_place() -> None:
    text = allowing(m.SMALL, "CUP05", "medium")
    (found,) = m.check_texts(text).findings
    assert (found.code, found.severity) == ("ALW01", Severity.WARNING)
    assert m.starts(found.span) == m.place_of(text, "{finding: CUP05")


@pytest.mark.parametrize(("code", "at"), [("CUP06", "medium"), ("CUP05", "tall")])
def test_another_code_or_place_is_not_accepted(code: str, at: str) -> None:
    assert codes(m.check_texts(allowing(PALE, code, at)).findings) == ["ALW01", "CUP05"]


def test_an_acceptance_without_a_reason_is_a_finding() -> None:
    assert codes(m.check_texts(allowing(PALE, "CUP05", "medium", None)).findings) == ["ALW02"]


def test_all_of_a_kind_are_accepted_in_one_place_unless_they_speak_of_safety() -> None:
    unpriced = m.SMALL.replace("quantity: 1 l, price: 3.00", "quantity: 1 l").replace(
        "quantity: 1 kg, price: 4.00", "quantity: 1 kg"
    )
    assert codes(m.check_texts(unpriced).findings) == ["COST01", "COST01"]
    assert codes(m.check_texts(allowing(unpriced, "COST01", "all")).findings) == []
    assert codes(m.check_texts(allowing(m.SMALL, "COST01", "all")).findings) == ["ALW01"]
    bare = m.swapped(m.SMALL, "    cautions: [choking]\n", "")
    assert codes(m.check_texts(bare).findings) == ["CAU02"]
    refused = m.check_texts(allowing(bare, "CAU02", "all")).findings
    assert codes(refused) == ["ALW04", "CAU02"]
    assert codes(m.check_texts(allowing(bare, "CAU02", "pearls")).findings) == []


def test_an_error_cannot_be_accepted() -> None:
    over = m.swapped(m.SMALL, "amount: 200 ml", "amount: 600 ml")
    findings = m.check_texts(allowing(over, "FIT01", "shaken")).findings
    assert codes(findings) == ["ALW03", "FIT01"]


def test_an_acceptance_is_not_called_idle_while_errors_hide_what_it_accepts() -> None:
    lost = m.swapped(PALE, "base: 58 mm", "base: 58 mn")
    assert codes(m.check_texts(allowing(lost, "CUP05", "medium")).findings) == ["VAL08"]


def test_a_line_over_the_rim_is_placed_and_the_other_cups_are_figured() -> None:
    text = m.swapped(
        m.SMALL, "fill_to: 380 ml", "fill_to: {medium: 600 ml, tall: 380 ml, poured: 380 ml}"
    )
    checked = m.check_texts(text)
    assert codes(checked.findings) == ["FIT08"]
    assert m.starts(checked.findings[0].span) == m.place_of(text, "600 ml")
    figured = {(s.drink.id, s.cup.id) for s in checked.servings}
    assert figured == {("cloud", "tall"), ("cloud", "poured"), ("shaken", "medium")}


def test_a_headspace_beyond_the_cup_is_one_finding_however_many_drinks_have_the_cup() -> None:
    text = m.swapped(m.SMALL, "    floor: 3 mm\n    headspace: 5 mm\n    lid: flat",
                     "    floor: 3 mm\n    headspace: 900 ml\n    lid: flat")  # fmt: skip
    (found,) = m.check_texts(text).findings
    assert found.code == "FIT08"
    assert m.starts(found.span) == m.place_of(text, "900 ml")


def test_a_crash_of_a_rule_is_a_finding_and_the_other_rules_run(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def broken(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setitem(RULES, "FIT06", Rule("FIT06", broken))
    findings = m.check_texts(PALE).findings
    assert codes(findings) == ["BUG01", "CUP05"]
    assert "FIT06" in next(f.message for f in findings if f.code == "BUG01")
