"""Rules of dates, hours and what is sold out: each trips, is fixed, and counts what follows."""

from __future__ import annotations

import pytest
from menu_samples import SMALL, check_texts, swapped

from buildsheets.findings.catalogue import catalogue
from buildsheets.findings.finding import Finding, Severity
from buildsheets.rules import when_rules
from buildsheets.rules.registry import RULES

SHAKEN, CLOUD = "    name: Shaken\n", "    name: Cloud\n"
PEARL_TIN = "  pearl-tin:\n    name: Pearls\n"


def findings(old: str, more: str) -> list[Finding]:
    return list(check_texts(swapped(SMALL, old, old + more)).findings)


def found(old: str, more: str, code: str) -> list[Finding]:
    return [one for one in findings(old, more) if one.code == code]


@pytest.mark.parametrize(
    ("dates", "said"),
    [
        ("    from: 2026-10-01\n", "is sold from 2026-10-01"),
        ("    until: 2026-02-28\n", "is sold until 2026-02-28"),
        ("    from: 2027-06-01\n    until: 2027-06-14\n", "is sold from 2027-06-01"),
    ],
)
def test_dates_outside_the_edition_are_told(dates: str, said: str) -> None:
    (one,) = found(SHAKEN, dates, "WHEN02")
    assert said in one.message
    assert "from 2026-03-01 to 2026-09-30" in one.message
    assert one.severity is Severity.WARNING
    assert one.span is not None
    assert one.span.line == SMALL[: SMALL.index(SHAKEN)].count("\n") + 2


@pytest.mark.parametrize(
    "dates",
    [
        "    from: 2026-09-30\n",
        "    until: 2026-03-01\n",
        "    from: 2025-01-01\n    until: 2028-01-01\n",
    ],
)
def test_dates_that_touch_the_edition_are_fine(dates: str) -> None:
    assert findings(SHAKEN, dates) == []


def test_hours_while_closed_are_told_and_hours_that_touch_opening_are_fine() -> None:
    (one,) = found(SHAKEN, "    hours: 06:00 to 10:00\n", "WHEN03")
    assert "sold from 06:00 to 10:00, and no day is open then: open from 10:00 to 20:00" in (
        one.message
    )
    assert one.span is not None
    assert one.span.line == SMALL[: SMALL.index(SHAKEN)].count("\n") + 2
    assert findings(SHAKEN, "    hours: 06:00 to 10:01\n") == []


def test_what_is_sold_out_names_all_that_follows() -> None:
    (one,) = findings(PEARL_TIN, "    sold_out: yes\n")
    assert one.code == "SOLD01"
    assert one.severity is Severity.NOTE
    assert one.message == (
        "'pearl-tin' is sold out, and with it drink 'cloud' and add-on 'add-pearls'"
    )
    # 5 medium and 3 tall of 'cloud' were expected.
    assert one.hint.startswith("busy plans 8 drinks fewer; 1 drink offered with it")
    assert findings(PEARL_TIN, "    sold_out: no\n") == []


def test_a_sold_out_drink_is_named_once() -> None:
    (one,) = findings(SHAKEN, "    sold_out: yes\n")
    assert one.message == "'shaken' is sold out"
    assert one.hint.startswith("busy plans 4 drinks fewer; ")


@pytest.mark.parametrize("code", ["WHEN02", "WHEN03", "SOLD01"])
def test_each_rule_says_why_and_from_where(code: str) -> None:
    assert RULES[code].check.__module__ == when_rules.__name__
    words = catalogue()[code].documentation
    assert all(part in words for part in ("At the counter: ", "Trips it::", "Fixed::", "Source: "))
