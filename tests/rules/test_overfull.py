"""The finding that a cup is too full: its sum adds up, and each fix offered fixes it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

import menu_samples as m
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildsheets.findings.finding import Finding, Severity
from buildsheets.pipeline import Checked

TOTALS = ("reaches", "may be filled", "too much by")


def shrunk(files: Mapping[str, str], share: float, cup: str = "") -> dict[str, str]:
    """The files with the heights of a cup (or of all of them) times a share, and no declared
    capacity that would disagree with it."""
    result = dict(files)
    for name, text in files.items():
        head, found, section = text.partition("\ncups:\n")
        if not found:
            continue
        rest = re.search(r"^[a-z]", section, re.MULTILINE)
        cups = section[: rest.start()] if rest else section
        tail = section[len(cups) :]
        blocks = re.split(r"(?m)^(?=  [a-z])", cups)
        changed = [smaller(block, share) if cup in block.split(":")[0] else block
                   for block in blocks]  # fmt: skip
        result[name] = head + found + "".join(changed) + tail
    assert result != files
    return result


def smaller(block: str, share: float) -> str:
    block = re.sub(r"\n    brimful: .*", "", block)
    return re.sub(
        r"(height: )([\d.]+)( mm)", lambda x: f"{x[1]}{float(x[2]) * share:.1f}{x[3]}", block
    )


def overfull(checked: Checked) -> list[Finding]:
    return [f for f in checked.findings if f.code == "FIT01"]


def tenths(text: str) -> int:
    match = re.fullmatch(r"(-?[\d]+)\.(\d) ml", text)
    assert match, text
    return int(match[1] + match[2])


def adds_up(finding: Finding) -> None:
    """In tenths of a ml: the lines give the total, the total less the limit the excess."""
    parts = [line for line in finding.sums if line.part not in TOTALS]
    reached, limit, excess = (
        next(line for line in finding.sums if line.part == part) for part in TOTALS
    )
    assert sum(tenths(line.takes_up) for line in parts) == tenths(reached.takes_up)
    assert tenths(reached.takes_up) - tenths(limit.takes_up) == tenths(excess.takes_up)
    for line in (reached, limit, excess):
        assert line.takes_up in finding.message


def fixed(files: Mapping[str, str], before: Checked) -> Iterator[tuple[Finding, str, Checked]]:
    for finding in overfull(before):
        for fix in finding.fixes:
            yield finding, fix.text, m.check_texts(m.applied(files, fix))


def only_that_one_is_gone(before: Checked, finding: Finding, after: Checked) -> None:
    was, now = {m.identity(f) for f in before.findings}, {m.identity(f) for f in after.findings}
    assert m.identity(finding) not in now
    assert now - was == set(), m.said(after.findings)


SMALL = {"menu.yaml": m.SMALL}


def test_a_cup_shrunk_by_a_fifth_is_an_error_with_its_sum() -> None:
    files = shrunk(SMALL, 0.8, "medium")
    files = m.edited(files, ("fill_to: 380 ml", "fill_to: {medium: 390 ml, tall: 380 ml,"
                             " poured: 380 ml}"))  # fmt: skip
    checked = m.check_texts(files)
    assert checked.stopped
    (finding,) = overfull(checked)
    assert finding.severity is Severity.ERROR
    assert finding.subject == ("cloud", "medium")
    adds_up(finding)
    assert [line.part for line in finding.sums if line.written][:5] == [
        "pearls", "sweet", "cubes", "plain-milk", "tea"]  # fmt: skip
    assert {label.span.line for label in finding.labels} == {
        m.place_of(files["menu.yaml"], "base: 58 mm")[0]
    }
    assert finding.fixes
    (filled,) = [line for line in finding.sums if line.part == "may be filled"]
    assert filled.because.endswith(" ml to the rim, less headspace")


def test_little_of_a_part_is_in_the_sum_and_little_too_much_is_told() -> None:
    little = ("{add: sweet, amount: 2 pumps}\n", "{add: sweet, amount: 1 ml}\n")
    files = m.edited(SMALL, ("amount: 200 ml", "amount: 600 ml"), little)
    (much,) = overfull(m.check_texts(files))
    adds_up(much)
    fits, over = 200.0, 600.0
    while over - fits > 0.02:
        middle = (fits + over) / 2
        tried = overfull(m.check_texts(m.edited(files, ("600 ml", f"{middle:.3f} ml"))))
        fits, over, much = (fits, middle, tried[0]) if tried else (middle, over, much)
    assert ": 0.1 ml too much" in much.message


@pytest.mark.parametrize("share", [0.74, 0.8, 0.83])
def test_each_fix_of_the_small_menu_fixes_it_and_brings_nothing_new(share: float) -> None:
    line = int(1000 * share) // 5 * 5 - 415
    files = m.edited(shrunk(SMALL, share), ("fill_to: 380 ml", f"fill_to: {line} ml"),
                     ("amount: 200 ml", "amount: 400 ml"))  # fmt: skip
    before = m.check_texts(files)
    assert overfull(before), m.said(before.findings)
    for finding in overfull(before):
        adds_up(finding)
    tried = list(fixed(files, before))
    assert tried
    for finding, _, after in tried:
        only_that_one_is_gone(before, finding, after)


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("amount: 200 ml", "amount: 0.6 l"),
        ("amount: 200 ml", "amount: 60 cl"),
        ("amount: 200 ml", "amount: 600g"),
        ("amount: 200 ml", "amount: {medium: 600 ml, tall: 1 ml}"),
        ("fill_to: 380 ml", "fill_to: {medium: 500 ml, tall: 38 cl, poured: 380 ml}"),
        ("fill_to: 380 ml", "fill_to: {medium: 113.5 mm, tall: 38 cl, poured: 380 ml}"),
    ],
)
def test_a_fix_is_in_the_unit_that_was_written(right: str, wrong: str) -> None:
    files = m.edited(SMALL, (right, wrong))
    before = m.check_texts(files)
    tried = list(fixed(files, before))
    assert tried, m.said(before.findings)
    for finding, _, after in tried:
        adds_up(finding)
        only_that_one_is_gone(before, finding, after)
    number = re.compile(r"^[\d.]+ ?")
    made = wrong.split(": ", 1)[1].removeprefix("{medium: ").split(",")[0].rstrip("}")
    unit = number.sub("", made)
    assert any(unit == number.sub("", f.replacement or "") for _, f in
               [(x, fix) for x in overfull(before) for fix in x.fixes])  # fmt: skip


OUNCES = (
    ("measures: metric", "measures: us_customary"),
    ("kind: jug, step: 5 ml, tolerance: 2 ml", "kind: jug, step: 1/4 fl oz, tolerance: 2 ml"),
)


@pytest.mark.parametrize(
    "edits",
    [
        (("amount: 100 ml", "amount: 400 ml"),),
        (*OUNCES, ("amount: 100 ml", "amount: 14 fl oz"), ("fill_to: 380 ml", "fill_to: 12 fl oz"),
         ("amount: 200 ml", "amount: 6 fl oz")),
    ],
)  # fmt: skip
def test_a_part_that_passes_the_line_is_offered_what_the_line_leaves_room_for(
    edits: tuple[tuple[str, str], ...],
) -> None:
    """What is poured before the line fills the cup: less of it that only fits would pass the line
    still (FIT02)."""
    files = m.edited(SMALL, *edits)
    before = m.check_texts(files)
    assert {"FIT01", "FIT02"} <= {one.code for one in before.findings}
    tried = list(fixed(files, before))
    assert tried, m.said(before.findings)
    for finding, text, after in tried:
        only_that_one_is_gone(before, finding, after)
        cup = finding.subject
        assert ("FIT02", cup) not in {(one.code, one.subject) for one in after.findings}, text


@pytest.mark.parametrize(
    ("edits", "cup", "works"),
    [
        ((("fill_to: 380 ml", "fill_to: {medium: 600 ml, tall: 380 ml, poured: 380 ml}"),),
         "505 ml", r"4\d\d ml"),
        ((("fill_to: 380 ml", "fill_to: {medium: 130 mm, tall: 380 ml, poured: 380 ml}"),),
         "114 mm", r"\d+ mm"),
        ((*OUNCES, ("amount: 200 ml", "amount: 6 fl oz"), ("fill_to: 380 ml",
           "fill_to: {medium: 21 fl oz, tall: 12 fl oz, poured: 12 fl oz}")),
         "17.08 fl oz", r"[\d.]+ fl oz"),
    ],
)  # fmt: skip
def test_a_line_over_the_rim_is_offered_one_that_works(
    edits: tuple[tuple[str, str], ...], cup: str, works: str
) -> None:
    """The cone of 58, 91 and 114 mm holds pi / 12 x 114 x (58² + 58 x 91 + 91²) = 505 068 mm³."""
    files = m.edited(SMALL, *edits)
    before = m.check_texts(files)
    (found,) = [one for one in before.findings if one.code == "FIT08"]
    assert cup in found.message
    (fix,) = found.fixes
    assert re.fullmatch(works, fix.replacement or "")
    assert fix.text.startswith(f"tea: pour only to {fix.replacement} (was ")
    after = m.check_texts(m.applied(files, fix))
    assert not [one for one in after.findings if one.code.startswith("FIT")], m.said(after.findings)


def test_ml_in_a_shop_of_fluid_ounces_are_offered_as_its_tools_show_them() -> None:
    """600 ml are poured as 20.25 fl oz; syrup is counted in pumps, and so stays in ml."""
    syrup = ("{add: sweet, amount: 2 pumps, into", "{add: sweet, amount: 100 ml, into")
    for edits, offered in (
        ([("amount: 200 ml", "amount: 600 ml")], r"strong: take \d+\.5 fl oz \(was 600 ml\)"),
        ([syrup, ("amount: 200 ml", "amount: 380 ml")], r"sweet: take \d+ ml \(was 100 ml\)"),
    ):
        files = m.edited(SMALL, *OUNCES, *edits)
        before = m.check_texts(files)
        tried = list(fixed(files, before))
        assert re.fullmatch(offered, tried[0][1])
        for finding, _, after in tried:
            only_that_one_is_gone(before, finding, after)


@pytest.mark.parametrize("head", ["90 %", "40 mm"])
def test_foam_that_runs_over_has_its_sum_and_amounts_that_work(head: str) -> None:
    """Tea that makes no room for ice: of a lower line it would more than double (FIT13)."""
    soda = "temperature: 5 °C, fizzy: yes, head: "
    files = m.edited(
        SMALL,
        ("with_less_ice: same_line", "with_less_ice: same_amounts"),
        ("{from: brew, tool: jug, station: bar, temperature: 5 °C}",
         f"{{from: brew, tool: jug, station: bar, {soda}{head}}}"),
    )  # fmt: skip
    before = m.check_texts(files)
    found = overfull(before)
    assert found
    for finding in found:
        adds_up(finding)
        assert "its foam reaches" in finding.message
        assert head in [line.written for line in finding.sums]
        assert finding.fixes
    for finding, _, after in fixed(files, before):
        only_that_one_is_gone(before, finding, after)


def test_foam_too_high_for_its_dome_has_its_sum_and_amounts_that_work() -> None:
    files = m.edited(
        SMALL,
        ("    lid: dome\n", "    lid: dome\n    dome: 20 mm\n    dome_hole: 15 mm\n"),
        ("cups: [medium, tall, poured]", "cups: [tall]"),
        ("count: {medium: 5, tall: 3}", "count: {tall: 3}"),
        ("ice:\n  cubes", "  foam: {from: milk, behaves: floated, overrun: 100 %, tool: jug,"
         " station: bar}\nice:\n  cubes"),
        ("      - {do: stir, for: 5 s}\n",
         "      - {do: stir, for: 5 s}\n      - {add: foam, amount: 450 ml}\n      - {do: lid}\n"),
    )  # fmt: skip
    before = m.check_texts(files)
    (finding,) = overfull(before)
    adds_up(finding)
    assert "pressed out when the dome goes on" in finding.message
    (limit,) = [line for line in finding.sums if line.part == "may be filled"]
    assert limit.written == "20 mm"
    assert "ml in the dome" in limit.because
    tried = list(fixed(files, before))
    assert any("foam" in text for _, text, _ in tried)
    for one, _, after in tried:
        only_that_one_is_gone(before, one, after)


def test_a_fault_no_single_amount_fixes_says_so() -> None:
    files = m.edited(SMALL, ("hold_back_at_most: 50 %", "hold_back_at_most: 0 %"),
                     ("amount: 200 ml", "amount: 2 l"))  # fmt: skip
    (finding,) = overfull(m.check_texts(files))
    assert finding.fixes == ()
    assert "no single amount" in finding.hint


@settings(max_examples=25)
@given(
    st.integers(200, 700),
    st.sampled_from(["1 scoop", "2 scoops", "3.5 scoops", "90 g"]),
    st.sampled_from([0.7, 0.85, 1.0]),
    st.sampled_from(["flat", "none"]),
)
def test_fixes_hold_over_amounts_cups_and_lids(
    strong_ml: int, ice: str, share: float, lid: str
) -> None:
    files = m.edited(
        shrunk(SMALL, share, "medium"),
        ("cups: [medium, tall, poured]", "cups: [tall, poured]"),
        ("{drink: cloud, count: {medium: 5, tall: 3}", "{drink: cloud, count: {tall: 3}"),
        ("amount: 200 ml", f"amount: {strong_ml} ml"),
        ("- {add: cubes, amount: 2 scoops, into", f"- {{add: cubes, amount: {ice}, into"),
        ("    lid: flat", f"    lid: {lid}"),
        ("pour: strained", "pour: dumped"),
    )
    before = m.check_texts(files)
    for finding in overfull(before):
        adds_up(finding)
    for finding, _, after in fixed(files, before):
        only_that_one_is_gone(before, finding, after)


def alone(files: Mapping[str, str], drink: str) -> dict[str, str]:
    """The files with one drink only and no day to plan for, which checks sooner."""
    result = dict(files)
    for name, text in files.items():
        head, found, section = text.partition("\ndrinks:\n")
        if found:
            blocks = re.split(r"(?m)^(?=  [a-z])", section.partition("\ndays:\n")[0] + "\n")
            (block,) = [block for block in blocks if block.startswith(f"  {drink}:")]
            result[name] = head + found + block
    assert result != files
    return result


@pytest.mark.slow
def test_a_cup_of_the_demo_menu_shrunk_by_a_fifth_stops_the_printing() -> None:
    checked = m.check_texts(shrunk(m.demo(), 0.8, "medium"))
    assert checked.stopped
    # Drinks whose line now lies over the rim cannot be figured; the others are too much.
    assert {f.code for f in checked.findings if f.severity is Severity.ERROR} == {"FIT01", "FIT08"}
    for finding in overfull(checked):
        assert finding.subject[1] == "medium"
        adds_up(finding)


@pytest.mark.slow
@pytest.mark.parametrize("share", [0.92, 0.96])
def test_each_fix_of_the_demo_menu_in_smaller_cups(share: float) -> None:
    files = shrunk(m.demo(), share)
    found = {f.subject[0] for f in overfull(m.check_texts(files))}
    assert len(found) > 3
    count = 0
    for drink in sorted(found):
        one = alone(files, drink)
        before = m.check_texts(one)
        for finding in overfull(before):
            adds_up(finding)
        for finding, _, after in fixed(one, before):
            only_that_one_is_gone(before, finding, after)
            count += 1
    assert count > 3
