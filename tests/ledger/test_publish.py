"""Revisions, codes and feet over several editions, and what publishing refuses."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml
from edition_samples import (
    AUTUMN,
    STEPS,
    WINTER,
    build,
    codes_of,
    edition,
    published,
    station,
    with_steps,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from buildsheets.ledger.ledger import Ledger, load
from buildsheets.ledger.publish import EditionCards, Issuer, edition_cards, publish
from buildsheets.views.card import Card, content_digest

MORE_TEA = replace(STEPS[1], amount="140", line="to 270 ml")


def foot(plan: EditionCards, place: int = 0) -> Any:
    return plan.cards[place].card.view.foot


def test_without_a_ledger_every_card_is_a_draft_of_revision_1(tmp_path: Path) -> None:
    plan = edition_cards([build()], Ledger(tmp_path), AUTUMN)
    assert plan.cards[0].draft
    assert plan.is_draft
    assert plan.cards[0].entry.revision == 1
    assert foot(plan).revision == "revision 1, DRAFT"
    assert foot(plan).edition == "Autumn 2026, from Sep 1, 2026"
    assert foot(plan).valid == "After Nov 30, 2026, check that it is current"
    assert foot(plan).local_code_note == "Follow your local food code."
    assert foot(plan).qr_payload.startswith(f"{foot(plan).code} revision 1, DRAFT A26\n")
    assert plan.cards[0].card.view.code == foot(plan).code  # type: ignore[attr-defined]


def test_publishing_makes_drafts_official(tmp_path: Path) -> None:
    plan = published(tmp_path, [build()], AUTUMN, Issuer(site="https://tea.example/"))
    assert not plan.is_draft
    code = foot(plan).code
    assert foot(plan).revision == "revision 1"
    assert foot(plan).qr_payload == f"HTTPS://TEA.EXAMPLE/C/{code.replace('-', '')}-1/"


def test_a_draft_says_so_across_the_card_and_its_revision_is_that_without(tmp_path: Path) -> None:
    (draft,) = edition_cards([build(language="es")], Ledger(tmp_path), AUTUMN).cards
    (official,) = published(tmp_path, [build(language="es")]).cards
    assert (draft.card.view.watermark, official.card.view.watermark) == ("BORRADOR", "")
    assert content_digest(draft.card.view) == content_digest(official.card.view)
    assert draft.entry.code == official.entry.code


def test_an_unchanged_card_keeps_the_foot_that_hangs_on_the_wall(tmp_path: Path) -> None:
    first = published(tmp_path, [build(), station()], AUTUMN)
    second = published(tmp_path, [build(), with_leaves("400 ml")], WINTER)
    assert foot(second) == foot(first)
    assert foot(second, 1).revision == "revision 2"
    assert foot(second, 1).code == foot(first, 1).code
    assert foot(second, 1).edition == "Winter 2026, from Dec 1, 2026"


def with_leaves(line: str) -> Card:
    return station(leaves=line)


def test_a_revision_number_is_never_used_twice(tmp_path: Path) -> None:
    published(tmp_path, [build()], AUTUMN)
    published(
        tmp_path, [with_steps(build(), MORE_TEA)], edition("A26-2", "2026-10-01", "2026-11-30")
    )
    back = published(tmp_path, [build()], WINTER)
    assert back.cards[0].entry.revision == 3


@settings(max_examples=15)  # each publishes up to six editions, to disk
@given(st.lists(st.sampled_from("ab"), min_size=1, max_size=6))
def test_revision_goes_up_exactly_when_the_content_changes(titles: list[str]) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        revision, before = 0, ""
        for number, title in enumerate(titles):
            which = edition(f"E{number}", f"2026-01-{number + 1:02d}", "2026-12-31")
            plan = published(Path(folder), [build(title=title)], which)
            revision += title != before
            before = title
            assert plan.cards[0].entry.revision == revision


def test_a_renamed_key_keeps_its_code(tmp_path: Path) -> None:
    first = published(tmp_path, [build("lantern-milk"), build("amber", "Amber tea")], AUTUMN)
    again = [build("lantern-milk-tea"), build("amber", "Amber tea")]
    second = published(tmp_path, again, WINTER)
    assert foot(second) == foot(first)
    assert second.cards[0].entry.since == "A26"
    assert not second.withdrawn


def test_a_renamed_and_changed_card_is_a_new_card(tmp_path: Path) -> None:
    first = published(tmp_path, [build("lantern-milk")], AUTUMN)
    second = published(tmp_path, [build("dusk-milk", "Dusk milk tea")], WINTER)
    assert foot(second).code != foot(first).code
    assert [entry.code for entry in second.withdrawn] == [foot(first).code]


def test_a_card_of_a_renamed_key_that_kept_its_name_keeps_its_code_too(tmp_path: Path) -> None:
    """What hangs on the wall under that name is replaced by it, so its revision goes up."""
    first = published(tmp_path, [build("lantern-milk")], AUTUMN)
    second = published(tmp_path, [build("lantern", contains=("milk", "egg"))], WINTER)
    assert foot(second).code == foot(first).code
    assert second.cards[0].entry.revision == 2
    assert not second.withdrawn


def test_a_code_that_went_with_a_rename_is_not_given_to_the_old_key_again(tmp_path: Path) -> None:
    first = published(tmp_path, [build("a", "One")], edition("E1", "2026-01-01", "2026-12-31"))
    published(tmp_path, [build("b", "One")], edition("E2", "2026-02-01", "2026-12-31"))
    third = published(
        tmp_path,
        [build("b", "One"), build("a", "Other")],
        edition("E3", "2026-03-01", "2026-12-31"),
    )
    assert foot(third).code == foot(first).code
    assert foot(third, 1).code != foot(first).code


def test_of_two_like_cards_neither_takes_the_others_code(tmp_path: Path) -> None:
    first = published(tmp_path, [build("a", "One"), build("b", "One")], AUTUMN)
    second = published(tmp_path, [build("c", "One"), build("d", "One")], WINTER)
    assert not {p.entry.code for p in first.cards} & {p.entry.code for p in second.cards}


def test_a_card_that_returns_keeps_its_code_and_goes_up(tmp_path: Path) -> None:
    days = [edition(f"E{n}", f"2026-0{n}-01", "2026-12-31") for n in (1, 2, 3)]
    first = published(tmp_path, [build("a", "One"), build("b", "Two")], days[0])
    published(tmp_path, [build("a", "One")], days[1])
    third = published(tmp_path, [build("a", "One"), build("b", "Two")], days[2])
    assert foot(third, 1).code == foot(first, 1).code
    assert third.cards[1].entry.revision == 2


def test_publishing_the_same_again_is_a_note_and_writes_nothing(tmp_path: Path) -> None:
    published(tmp_path, [build()], AUTUMN)
    before = snapshot(tmp_path)
    plan, findings = publish([build()], tmp_path, AUTUMN)
    assert codes_of(findings) == ["PUB05"]
    assert plan is not None
    assert not plan.is_draft
    assert snapshot(tmp_path) == before


@pytest.mark.parametrize(
    ("cards", "which"),
    [
        ([with_steps(build(), MORE_TEA)], AUTUMN),
        ([build(), station()], AUTUMN),
        ([], AUTUMN),
        ([build()], edition("A26", "2026-09-01", "2026-12-31")),
        ([build(title="Other")], edition("a26", "2026-09-02", "2026-11-30")),
    ],
)
def test_a_published_edition_is_never_rewritten(
    tmp_path: Path, cards: list[Card], which: Any
) -> None:
    published(tmp_path, [build()], AUTUMN)
    before = snapshot(tmp_path)
    _, findings = publish(cards, tmp_path, which)
    assert codes_of(findings) == ["PUB01"]
    assert findings[0].severity == "error"
    assert snapshot(tmp_path) == before
    fixed = replace(which, code=findings[0].fixes[0].text.split()[-1])
    _, findings = publish(cards, tmp_path, fixed)
    assert not [f for f in findings if f.severity == "error"]


def snapshot(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_a_correction_before_a_coming_edition_warns_and_compares_with_what_holds(
    tmp_path: Path,
) -> None:
    published(tmp_path, [build()], AUTUMN)
    published(tmp_path, [build(title="Winter lantern")], WINTER)
    fix = edition("A26-2", "2026-10-01", "2026-11-30")
    plan, findings = publish([with_steps(build(), MORE_TEA)], tmp_path, fix)
    assert codes_of(findings) == ["PUB04"]
    assert plan is not None
    assert plan.base is not None
    assert plan.cards[0].entry.revision == 3  # 2 is taken by the winter card


def test_names_and_feet_are_in_the_cards_language(tmp_path: Path) -> None:
    plan = published(tmp_path, [build(language="es")], WINTER)
    assert foot(plan).edition == "Invierno 2026, desde el 1 dic 2026"
    assert foot(plan).revision == "revisión 1"


def test_the_file_is_plain_yaml_and_a_line_a_card(tmp_path: Path) -> None:
    published(tmp_path, [build(), station()], AUTUMN)
    (path,) = tmp_path.glob("*.yaml")
    assert path.name == "2026-09-01-A26.yaml"
    head, says = yaml.safe_load_all(path.read_text("utf-8"))
    assert head["edition"] == "A26"
    assert len(head["cards"]) == 2
    build_code = next(c["code"] for c in head["cards"] if c["card"][0] == "build")
    assert says[build_code]["steps"][1]["what"] == "Black tea"


def test_an_unchanged_card_is_not_told_twice(tmp_path: Path) -> None:
    plan = published(tmp_path, [build(), station()], AUTUMN)
    published(tmp_path, [build(), station(leaves="400 ml")], WINTER)
    ledger = load(tmp_path)
    winter = ledger.editions[1]
    assert plan.cards[0].entry.code not in winter.texts_yaml
    (entry,) = [entry for entry in winter.entries if entry.key.kind == "build"]
    assert ledger.texts(entry)["title"] == "Lantern milk tea"


@pytest.mark.parametrize(
    "text", ["B-7K3QF-9: x\n---\ncards:\n- {}", "# sha256 no", "\u2028\x85 ünï: 'x'", "- \ttab: 1"]
)
def test_any_text_of_a_card_survives_the_ledger(tmp_path: Path, text: str) -> None:
    plan = published(tmp_path, [build(title=text)], AUTUMN)
    ledger = load(tmp_path)
    assert not ledger.findings
    assert ledger.texts(plan.cards[0].entry)["title"] == text
    assert ledger.editions[0].entries[0].label == f"{text}, Large"
    (path,) = tmp_path.glob("*.yaml")
    head, _ = yaml.safe_load_all(path.read_text("utf-8"))
    assert head["cards"][0]["label"] == f"{text}, Large"


def test_a_hand_edit_is_a_finding_and_stops_publishing(tmp_path: Path) -> None:
    published(tmp_path, [build()], AUTUMN)
    (path,) = tmp_path.glob("*.yaml")
    path.write_text(path.read_text("utf-8").replace("Black tea", "Green tea"), "utf-8")
    assert codes_of(load(tmp_path).findings) == ["PUB02"]
    plan, findings = publish([build()], tmp_path, WINTER)
    assert plan is None
    assert codes_of(findings) == ["PUB02"]
    assert len(list(tmp_path.glob("*.yaml"))) == 1


def test_line_ends_changed_by_version_control_are_no_hand_edit(tmp_path: Path) -> None:
    published(tmp_path, [build()], AUTUMN)
    (path,) = tmp_path.glob("*.yaml")
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    ledger = load(tmp_path)
    assert not ledger.findings
    assert ledger.texts(ledger.editions[0].entries[0])["title"] == "Lantern milk tea"


@pytest.mark.parametrize("gone", [0, 1])
def test_a_missing_edition_is_noticed(tmp_path: Path, gone: int) -> None:
    for number, title in enumerate("abc"):
        published(
            tmp_path,
            [build(title=title)],
            edition(f"E{number}", f"2026-0{number + 1}-01", "2026-12-31"),
        )
    sorted(tmp_path.glob("*.yaml"))[gone].unlink()
    assert codes_of(load(tmp_path).findings) == ["PUB02"]


@given(st.binary(max_size=200))
def test_no_file_content_makes_the_ledger_raise(data: bytes) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "2026-01-01-X.yaml").write_bytes(data)
        assert codes_of(load(Path(folder)).findings) == ["PUB02"]
