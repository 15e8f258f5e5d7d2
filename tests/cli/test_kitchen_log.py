"""The log on the command line: what it says, what it refuses, and that no crash loses a line."""

from __future__ import annotations

import multiprocessing
import random
import time
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from command_samples import run
from menu_samples import check_once

from buildsheets.cli import kitchen_log
from buildsheets.cli.kitchen_log import FILE, clock, entries, write_down
from buildsheets.menu.model import Menu
from buildsheets.prep.log import HEAD, Entry

FORK = multiprocessing.get_context("fork")


def menu_of(shop: Path) -> Menu:
    menu = check_once(shop).menu
    assert menu is not None
    return menu


def test_labels_know_what_was_opened_before(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    now = clock(menu_of(shop))
    two_days_ago = (now - timedelta(days=2)).isoformat()
    opened = run(capsys, "log", "opened", "whole-milk", "--at", two_days_ago, "--menu", shop)
    assert opened.code == 0
    assert "whole-milk once opened" in opened.out
    wanted = ("milk-foam", "whole-milk", "--at", now.isoformat())
    data = run(capsys, "labels", *wanted, "--format", "json", "--menu", shop).result
    foam, pack = data["labels"]
    milk = next(one for one in foam["limits"] if one["because"] == "opened")
    assert milk["last_day"] == now.date().isoformat()  # the milk of two days ago ends today
    # a carton opened now: 3 days, today is the first
    assert pack["item"] == "whole-milk"
    assert pack["last_day"] == (now.date() + timedelta(days=2)).isoformat()


def test_a_label_says_what_the_log_does(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    now = clock(menu_of(shop))
    first, second = now - timedelta(days=1, hours=1), now - timedelta(hours=1)
    tomorrow, later = now.date() + timedelta(days=1), now.date() + timedelta(days=9)

    def opened(at: datetime, use_by: date) -> None:
        dated = ("--at", at.isoformat(), "--use-by", use_by)
        assert run(capsys, "log", "opened", "whipping-cream", *dated, "--menu", shop).code == 0

    def end(day: date) -> str:
        return f"Use until the end of {day:%a, %b} {day.day}\n"

    opened(second, tomorrow)
    told = run(capsys, "labels", "whipping-cream", "--menu", shop)
    assert end(tomorrow) in told.out  # and not three days from now, as an opened carton keeps
    assert f"as logged, opened {second:%a %d %b %H:%M}; for another one add --log" in told.err
    opened(first, later)
    told = run(capsys, "labels", "whipping-cream", "--menu", shop)
    assert end(tomorrow) in told.out
    assert f"opened {second:%a %d %b %H:%M}, the newest of 2 in use" in told.err
    another = run(capsys, "labels", "whipping-cream", "--use-by", now.date(), "--menu", shop)
    assert end(now.date()) in another.out
    assert f"another pack than that opened {second:%a %d %b %H:%M}" in another.err


def test_a_batch_made_yesterday_is_labelled_so(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = clock(menu_of(shop)) - timedelta(days=1)
    run(capsys, "log", "made", "cane-syrup", "--at", made.isoformat(), "--menu", shop)
    told = run(capsys, "labels", "cane-syrup=2", "--menu", shop)
    assert told.out.count(f"Made {made:%a, %b} {made.day}, {made.year}, {made:%H:%M}") == 2
    assert f"cane-syrup: as logged, made {made:%a %d %b %H:%M}" in told.err


def test_nothing_out_of_date_is_labelled(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old = clock(menu_of(shop)) - timedelta(days=9)
    run(capsys, "log", "opened", "whole-milk", "--at", old.isoformat(), "--menu", shop)
    told = run(capsys, "labels", "whole-milk", "--menu", shop)
    assert (told.code, told.out) == (2, "")
    assert f"opened {old:%a %d %b %H:%M}, and it is out of date: throw it away" in told.err
    assert run(capsys, "labels", "whole-milk", "--log", "--menu", shop).code == 0


def test_labels_write_in_the_log_when_asked(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "labels", "whole-milk=2", "cane-syrup", "--menu", shop)
    assert entries(shop / FILE) == []
    run(capsys, "labels", "whole-milk=2", "cane-syrup", "--log", "--menu", shop)
    assert [(one.event, one.id) for one in entries(shop / FILE)] == [
        ("opened", "whole-milk"), ("made", "cane-syrup"),
    ]  # fmt: skip
    calendar = run(capsys, "labels", "--calendar", "--menu", shop).out
    assert "Whole milk" in calendar
    assert "Cane syrup" in calendar or "Plain syrup" in calendar


def test_what_is_out_of_date_stands_first_and_is_an_answer_of_its_own(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(capsys, "log", "--menu", shop).out == "nothing in use is in the log\n"
    old = (clock(menu_of(shop)) - timedelta(days=9)).isoformat()
    run(capsys, "log", "made", "cane-syrup", "--menu", shop)
    run(capsys, "log", "opened", "whole-milk", "--at", old, "--menu", shop)
    told = run(capsys, "log", "--menu", shop)
    assert told.code == 1
    first, second = told.out.splitlines()
    assert first.startswith("OUT OF DATE: throw away")
    assert "whole-milk" in first
    assert second.startswith("until the end of")
    assert run(capsys, "log", "gone", "whole-milk", "--menu", shop).code == 0
    assert run(capsys, "log", "--menu", shop).code == 0


def test_a_carton_has_the_date_on_it(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    day = clock(menu_of(shop)).date() + timedelta(days=1)
    told = run(capsys, "log", "opened", "whole-milk", "--use-by", day, "--menu", shop)
    assert f"gone by the end of {day:%a %d %b} (use-by of whole-milk)" in told.out
    assert run(capsys, "labels", "whole-milk", "--use-by", day, "--log", "--menu", shop).code == 0
    assert [one.use_by for one in entries(shop / FILE)] == [day, day]
    said = run(capsys, "log", "made", "cane-syrup", "--use-by", day, "--menu", shop).err
    assert "--use-by is the date on a pack that is opened" in said


def test_what_is_frozen_stands_still(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    now = clock(menu_of(shop))

    def log(event: str, days_ago: int, item: str = "cane-syrup") -> str:
        at = (now - timedelta(days=days_ago)).isoformat()
        ran = run(capsys, "log", event, item, "--at", at, "--menu", shop)
        return ran.out + ran.err

    log("made", 12)
    assert "in the freezer (the count of days stands still)" in log("frozen", 10)
    listed = run(capsys, "log", "--menu", shop)
    assert listed.out.startswith("in the freezer  cane-syrup")
    assert listed.code == 0
    # Two days before, today the third of seven: four more.
    last = now.date() + timedelta(days=4)
    assert f"gone by the end of {last:%a %d %b}" in log("thawed", 0)
    assert "has no 'cane-syrup' in the freezer" in log("thawed", 0)
    log("opened", 0, "whole-milk")
    assert "whether it can be frozen, its maker says" in log("frozen", 0, "whole-milk")


def test_labels_say_what_they_took_for_granted(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = run(capsys, "labels", "milk-foam", "--menu", shop)
    assert "not in the log, taken to be opened or made at that moment: whole-milk, cane-syrup" in (
        told.err
    )
    run(capsys, "labels", "whole-milk", "cane-syrup", "--log", "--menu", shop)
    assert run(capsys, "labels", "milk-foam", "--menu", shop).err == ""


def test_nothing_is_made_of_what_is_out_of_date(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old = (clock(menu_of(shop)) - timedelta(days=5)).isoformat()
    run(capsys, "log", "opened", "whole-milk", "--at", old, "--menu", shop)
    for verb in (("labels", "milk-foam", "--log"), ("log", "made", "milk-foam")):
        told = run(capsys, *verb, "--menu", shop)
        assert told.code == 2
        assert "all whole-milk in the log is out of date" in told.err
        assert "log gone whole-milk" in told.err
    assert [one.id for one in entries(shop / FILE)] == ["whole-milk"]


def test_a_slip_writes_nothing(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wrong = run(capsys, "log", "opened", "whole-milk", "oat-drnk", "--menu", shop)
    assert wrong.code == 2
    assert "did you mean oat-drink" in wrong.err
    soon = (clock(menu_of(shop)) + timedelta(hours=1)).isoformat()
    assert (
        "not come yet"
        in run(capsys, "log", "opened", "whole-milk", "--at", soon, "--menu", shop).err
    )
    assert "say what was opened" in run(capsys, "log", "opened", "--menu", shop).err
    assert not (shop / FILE).exists()


def test_a_time_alone_is_of_today(
    shop: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    noon = clock(menu_of(shop)).replace(hour=12, minute=0)
    monkeypatch.setattr(kitchen_log, "clock", lambda _: noon)
    told = run(capsys, "log", "opened", "whole-milk", "--at", "09:05", "--menu", shop)
    assert f"whole-milk: opened at {noon:%a %d %b} 09:05; gone by" in told.out
    label = run(capsys, "labels", "oat-drink", "--at", "9:30", "--menu", shop).out
    assert f"{noon.year}, 09:30" in label
    later = run(capsys, "log", "opened", "whole-milk", "--at", "13:00", "--menu", shop)
    assert (later.code, later.out) == (2, "")
    assert "13:00 has not come yet" in later.err


def test_a_damaged_log_is_named_and_left_alone(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (shop / FILE).write_text("2027-03-01 opened whole-milk\n")
    told = run(capsys, "log", "opened", "whole-milk", "--menu", shop)
    assert told.code == 2
    assert "line 1 of the log" in told.err
    (shop / FILE).write_bytes(b"\xff\xfe\n")
    assert "UTF-8" in run(capsys, "log", "--menu", shop).err
    assert (shop / FILE).read_bytes() == b"\xff\xfe\n"


def test_a_line_cut_off_by_a_crash_is_not_glued_to_the_next(shop: Path) -> None:
    menu = menu_of(shop)
    now = clock(menu)
    write_down(menu, shop / FILE, [Entry(now, "opened", "whole-milk")], now)
    with (shop / FILE).open("a") as file:
        file.write("2026-11-26T09:30+01:00 opened oat-dr")
    write_down(menu, shop / FILE, [Entry(now, "opened", "oat-drink")], now)
    assert [one.id for one in entries(shop / FILE)] == ["whole-milk", "oat-drink"]
    assert (shop / FILE).read_text().startswith(HEAD)


def test_what_next_seasons_menu_no_longer_has_is_looked_at_and_written_off(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    now = clock(menu_of(shop))
    old, sold_by = now - timedelta(days=6), now.date() + timedelta(days=1)
    (shop / FILE).write_text(
        f"{old.isoformat()} opened rhubarb-juice\n"
        f"{old.isoformat()} opened pear-juice use-by {sold_by}\n"
        f"{old.isoformat()} opened old-juice use-by {now.date() - timedelta(days=1)}\n"
        f"{old.isoformat()} counted rhubarb-juice 2 l\n"
    )
    told = run(capsys, "log", "--menu", shop)
    assert told.code == 1
    out, begun = " ".join(told.out.split()), f"opened {old:%a %d %b %H:%M} no longer on the menu"
    assert f"LOOK AT ITS LABEL, or throw away rhubarb-juice {begun}" in out
    assert f"LOOK AT ITS LABEL, or throw away pear-juice {begun}, use-by {sold_by:%a %d %b}" in out
    assert f"OUT OF DATE: throw away old-juice {begun}" in out
    assert f"counted rhubarb-juice 2 l {old:%a %d %b %H:%M} no longer on the menu" in out
    assert "once it is gone: buildsheets log gone rhubarb-juice\n" in told.out
    data = run(capsys, "log", "--format", "json", "--menu", shop).result
    assert {one["item"]: one["why"] for one in data["in_use"]} == dict.fromkeys(
        ("rhubarb-juice", "pear-juice", "old-juice"), "no longer on the menu"
    )
    assert [one["id"] for one in data["not_on_hand"]] == ["rhubarb-juice"]
    calendar = run(capsys, "labels", "--calendar", "--menu", shop)
    assert "throw away  rhubarb-juice" in calendar.err
    gone = ("rhubarb-juice", "pear-juice", "old-juice")
    assert run(capsys, "log", "gone", *gone, "--menu", shop).code == 0
    told = run(capsys, "log", "--menu", shop)
    assert (told.code, told.out) == (0, "nothing in use is in the log\n")


def test_a_calendar_counts_no_labels(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = run(capsys, "labels", "--calendar", "cane-syrup=3", "--menu", shop)
    assert (told.code, told.out) == (2, "")
    assert "a calendar has one line of each: write cane-syrup\n" in told.err
    assert run(capsys, "labels", "--calendar", "cane-syrup", "--menu", shop).code == 0


class _ByteByByte:
    """A file that takes one byte at a time, slowly, so that a kill tears the line apart."""

    def __init__(self, *how: Any, **more: Any) -> None:
        self._file: Any = open(*how, **more)  # noqa: SIM115  closed on leaving

    def __enter__(self) -> _ByteByByte:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def write(self, data: bytes) -> int:
        time.sleep(0.0005)
        return int(self._file.write(data[:1]))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)


def _keep_writing(menu: Menu, path: Path, told: Any, slowly: bool) -> None:
    if slowly:
        kitchen_log.open = _ByteByByte  # type: ignore[attr-defined]
    while True:
        now = clock(menu)
        write_down(menu, path, [Entry(now, "opened", "whole-milk")], now)
        told.send(1)


@pytest.mark.slow
@pytest.mark.parametrize("slowly", [False, True])
def test_twenty_kills_lose_no_line_that_was_reported(shop: Path, slowly: bool) -> None:
    menu, reported, torn = menu_of(shop), 0, 0
    for _ in range(20):
        ours, theirs = FORK.Pipe()
        writer = FORK.Process(target=_keep_writing, args=(menu, shop / FILE, theirs, slowly))
        writer.start()
        ours.recv()  # it is at work
        time.sleep(random.uniform(0.0, 0.1))
        writer.kill()
        writer.join()
        theirs.close()
        reported += 1
        try:
            while ours.poll():
                reported += ours.recv()
        except EOFError:
            pass
        torn += not (shop / FILE).read_bytes().endswith(b"\n")
        lines = len(entries(shop / FILE))
        assert reported <= lines <= reported + 1  # one may be written and not yet reported
        reported = lines
    assert torn > 3 or not slowly  # else nothing was tried
