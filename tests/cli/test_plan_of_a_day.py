"""`plan` of a day that can be done, and of one that cannot: what is printed, and the exit code."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from command_samples import DEMO, ROOT, demo_copy, run

IMPOSSIBLE = ROOT / "tests/menus/impossible-saturday.yaml"


def test_a_day_that_cannot_be_done_ends_with_1_beside_its_best_plan(
    capsys: pytest.CaptureFixture[str],
) -> None:
    ran = run(capsys, "plan", "saturday", "--menu", IMPOSSIBLE)
    assert ran.code == 1
    plan, _, told = ran.out.partition("error PLAN01")
    assert plan.startswith("Prep for Saturday")
    assert "09:25  Pearls 1/3 × 1  Boil (100 °C)  pot, burner  5 min  09:55" in plan
    assert "CANNOT BE DONE IN TIME: Pearls 3/3 × 1 (for 10:20: 55 min late)." in plan
    assert "fix: the first to come 10 min earlier" in told


def test_json_is_one_document_with_what_is_late_and_what_helps(
    capsys: pytest.CaptureFixture[str],
) -> None:
    ran = run(capsys, "plan", "saturday", "--menu", IMPOSSIBLE, "--format", "json")
    assert ran.code == 1
    assert "PLAN01" in {one["code"] for one in ran.data["findings"]}
    data = ran.result
    assert data["not_in_time"] == [
        {
            "batch": "pearls",
            "number": 3,
            "needed_min": 620.0,
            "late_min": 55,
            "waits_for": ["hands", "burner"],
        }
    ]
    assert [one["things"] for one in data["helps"]] == [[], ["burner"], []]
    assert [one["earlier_min"] for one in data["helps"]] == [0, 0, 10]
    first = data["loads"][0]
    assert (first["start_min"], first["ready_min"], first["of"]) == (565, 600, 3)
    (part,) = first["parts"]
    assert (part["item"], part["exact_g"], part["weigh_g"]) == ("dry-pearls", 500.0, 500.0)
    assert [(step["start_min"], step["hands_min"], step["on"]) for step in first["steps"]] == [
        (565, 5, ["pot", "burner"]), (595, 5, ["pot"]),
    ]  # fmt: skip


def test_the_pdf_is_written_all_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("plan", "saturday", "--menu", IMPOSSIBLE, "--format", "pdf", "--out", tmp_path)
    ran = run(capsys, *words)
    assert ran.code == 1
    assert (tmp_path / "S26/prep/plan-saturday.pdf").read_bytes().startswith(b"%PDF")


def test_the_demos_saturday_ends_with_0_and_its_loads_in_the_order_of_the_clock(
    capsys: pytest.CaptureFixture[str],
) -> None:
    ran = run(capsys, "plan", "saturday", "--format", "json")
    assert (ran.code, ran.err) == (0, "")
    data = ran.result
    assert (data["not_in_time"], data["helps"]) == ([], [])
    starts = [load["start_min"] for load in data["loads"]]
    assert starts == sorted(starts)
    assert data["most_hands"]["busy"] <= data["most_hands"]["there"]
    assert all(step["known"] for load in data["loads"] for step in load["steps"])


@pytest.mark.parametrize("command", ["plan", "buy"])
def test_a_day_before_the_season_is_told_and_planned_all_the_same(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The demo begins on 2026-12-01; the Saturday before it is sold from the menu before."""
    asked = (command, "saturday", "--on", "2026-11-28", "--menu", DEMO)
    early = run(capsys, *asked)
    assert early.code == 0
    assert "PLAN03 day-outside-season: 'saturday' is planned for 2026-11-28, before" in early.out
    told = run(capsys, *asked, "--format", "json")
    assert [one["code"] for one in told.data["findings"]] == ["PLAN03"]
    in_time = run(capsys, command, "saturday", "--on", "2026-12-05", "--menu", DEMO)
    assert "PLAN03" not in in_time.out


def test_a_warning_is_no_row_of_a_spreadsheet(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ("buy", "saturday", "--on", "2026-11-28", "--format", "csv", "--menu", DEMO)
    told = run(capsys, *asked)
    assert "PLAN03" in told.err
    assert "PLAN03" not in told.out


def test_before_its_season_a_menu_says_where_the_old_names_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = demo_copy(tmp_path / "menu")
    soon = date.today() + timedelta(days=2)
    file = shop / "shop.yaml"
    written = file.read_text("utf-8").replace("2026-12-01", str(soon))
    file.write_text(written.replace("2027-02-28", "2099-01-01"), "utf-8")
    for asked in (("labels", "rhubarb-juice"), ("log", "opened", "rhubarb-juice")):
        told = run(capsys, *asked, "--menu", shop)
        assert told.code == 2
        assert f"this menu is sold from {soon}; for what is sold until then" in told.err
