"""A shop's own layouts lie over the shipped ones, cannot reach beyond them, and say what broke."""

from __future__ import annotations

import io
from dataclasses import fields, replace
from pathlib import Path

import pikepdf
import pytest
import reportlab
from card_samples import BUILD, PLAIN, STATION
from pdf_reading import colours, errors, letters_of, own_layout, page_texts, place_of, text_boxes
from PIL import Image

from buildsheets.findings.finding import Finding, Severity
from buildsheets.pipeline import misplaced_layouts
from buildsheets.print.document import maker
from buildsheets.print.layouts import (
    LayoutBroken,
    LayoutMissing,
    Layouts,
    shipped_root,
)
from buildsheets.print.render import Printed, RenderOptions, render_cards, render_pdf
from buildsheets.print.templates import broken_layout
from buildsheets.print.typeface import faces_of
from buildsheets.views.reference import view_reference, view_types


@pytest.fixture
def own(tmp_path: Path) -> Path:
    folder = tmp_path / "layouts"
    folder.mkdir()
    maker.cache_clear()
    faces_of.cache_clear()
    return folder


def put(own: Path, name: str, text: str | bytes) -> Path:
    own_layout(own, name, text)
    return own / name


def printed(own: Path | None) -> Printed:
    return render_pdf([PLAIN], RenderOptions(layouts=own, title="t"))


def text(done: Printed) -> str:
    return page_texts(done.pdf)[0]


def only_error(done: Printed) -> Finding:
    (error,) = [f for f in done.findings if f.severity is Severity.ERROR]
    return error


EXTENDS = '{% extends "shipped:build/card.html" %}\n'
STYLE = '{% include "shipped:build/style.css" %}\n'


def block(name: str, inside: str) -> str:
    """An own build card with one block of its own."""
    return f"{EXTENDS}{{% block {name} %}}\n{inside}\n{{% endblock %}}\n"


def test_own_template_is_used_and_the_rest_stays_shipped(own: Path) -> None:
    put(own, "build/card.html", block("finish", "<p>House rules</p>"))
    assert "House rules" in text(printed(own))
    assert "House rules" not in text(printed(None))
    assert "Ginger bark tea" in text(printed(own))


def test_own_tokens_change_what_they_name_and_no_more(own: Path) -> None:
    put(own, "shared/tokens.yaml", 'colour:\n  ink: "#003366"\n')
    tokens = Layouts(own).tokens()
    assert tokens["colour"]["ink"] == "#003366"
    assert tokens["colour"]["paper"] == Layouts(None).tokens()["colour"]["paper"]
    assert (0x00, 0x33, 0x66) in colours(printed(own).pdf)
    assert (0x00, 0x33, 0x66) not in colours(printed(None).pdf)


def test_own_words_change_what_they_name(own: Path) -> None:
    put(own, "words/en.yaml", 'proof_bar: "fifty millimetres, please"\n')
    assert "fifty millimetres" in text(printed(own))
    assert Layouts(own).words("en")("may_contain") == Layouts(None).words("en")("may_contain")


def test_own_style_is_used(own: Path) -> None:
    put(own, "build/style.css", STYLE + "h1 { color: #c00000; }\n")
    assert (0xC0, 0, 0) in colours(printed(own).pdf)


def test_a_logo_in_the_head(own: Path) -> None:
    logo = Image.new("RGB", (60, 60), (0, 120, 40))
    logo.save(own / "logo.png")
    put(own, "build/card.html", block(
        "title", '<img class="logo" src="layout:/logo.png" alt="Kiosk">{{ super() }}'))  # fmt: skip
    put(own, "build/style.css", STYLE + ".logo { float: right; width: 14mm; height: 14mm; }")
    done = printed(own)
    assert errors(done) == []
    assert (0, 120, 40) in colours(done.pdf)
    boxes = [box for box in text_boxes(done.pdf) if box[4] == "QR code"]  # pictures
    assert any(b[3] < 25 and b[2] - b[0] == pytest.approx(14, abs=0.2) for b in boxes)


def vera(own: Path) -> None:
    """A typeface that a test dependency brings along, as a shop's own."""
    for name in ("Vera.ttf", "VeraBd.ttf"):
        put(own, f"fonts/{name}", (Path(reportlab.__file__).parent / "fonts" / name).read_bytes())
    put(own, "shared/tokens.yaml",
        "typeface: {family: Vera, regular: fonts/Vera.ttf, bold: fonts/VeraBd.ttf}\n")  # fmt: skip


def test_another_typeface(own: Path) -> None:
    vera(own)
    done = render_pdf([PLAIN, STATION], RenderOptions(layouts=own))
    assert errors(done) == []
    with pikepdf.open(io.BytesIO(done.pdf)) as pdf:
        names = {
            str(font.BaseFont).split("+")[1]
            for page in pdf.pages
            for font in page.Resources.Font.values()
        }
    assert names == {"Vera", "Vera-Bold"}
    # Its capitals are 729 of 1000 units high, ours 668: the same angle takes smaller type.
    numerals = [max(one.size_pt for one in letters_of(d.pdf)) for d in (done, printed(None))]
    assert numerals[0] / numerals[1] == pytest.approx(668 / 729, abs=0.02)


def test_glyphs_of_another_typeface_are_checked_in_its_own_files(own: Path) -> None:
    named = replace(PLAIN, title="Tea \u0414")  # a letter neither has
    view = replace(PLAIN, title="Tea \ufb01n")  # a ligature Vera has as well
    vera(own)
    options = RenderOptions(layouts=own)
    assert errors(render_pdf([named], options)) == ["CARD01"]
    assert errors(render_pdf([view], options)) == []


@pytest.mark.parametrize(
    ("told", "what"),
    [
        ("typeface: Arial\n", "names a family"),
        ("typeface: {family: A}\n", "names a family"),
        ("typeface: {family: A, regular: a.ttf, bold: b.ttf}\n", "a.ttf"),
        ("typeface: {family: A, regular: shared/tokens.yaml, bold: b.ttf}\n", "not a font"),
    ],
)
def test_a_typeface_that_cannot_be_used_is_found_at_its_line(
    own: Path, told: str, what: str
) -> None:
    path = put(own, "shared/tokens.yaml", "# our look\n" + told)
    error = only_error(printed(own))
    assert error.code == "CARD12"
    assert what in error.message
    assert error.span is not None
    assert (error.span.file, error.span.line) == (str(path), 2)


def test_capitals(own: Path) -> None:
    put(own, "build/style.css", STYLE + ".w { text-transform: uppercase }")
    done = render_pdf([BUILD], RenderOptions(layouts=own))
    assert errors(done) == []
    assert "ROASTED OOLONG" in text(done)


def test_a_larger_allergen_box(own: Path) -> None:
    put(own, "build/style.css", STYLE + ".allergen-box p, .allergen-box b { font-size: 20pt }")
    done = render_pdf([BUILD], RenderOptions(layouts=own))
    assert errors(done) == []
    large = [one.char for one in letters_of(done.pdf) if one.size_pt == pytest.approx(20, abs=0.1)]
    assert "".join(large) == "Contains:milkMaycontain:soya,gluten"


def test_blocks_in_another_order_or_left_out(own: Path) -> None:
    put(own, "build/card.html", EXTENDS
        + "{% block legend %}{% endblock %}"
        + "{% block title %}{{ parts.allergens(card.allergens, w) }}{{ super() }}{% endblock %}"
        + "{% block allergens %}{% endblock %}")  # fmt: skip
    done = render_pdf([BUILD], RenderOptions(layouts=own))
    plain = render_pdf([BUILD])
    assert errors(done) == []
    assert place_of(done.pdf, "Contains")[1] < place_of(done.pdf, "Roasted cloud")[1]
    assert place_of(plain.pdf, "Contains")[1] > place_of(plain.pdf, "Roasted cloud")[1]
    assert "Top and seal" in text(plain)
    assert "Top and seal" not in text(done)


def test_rows_in_another_order_stay_on_one_card(own: Path) -> None:
    inside = "".join(f"{{{{ self.{name}() }}}}" for name in ("options", "keeps", "steps"))
    put(own, "build/card.html", block("body", inside))
    for distance in (400.0, 450.0, 500.0, 750.0):
        view = replace(BUILD, reading_distance_mm=distance)
        done = render_pdf([view], RenderOptions(layouts=own))
        assert errors(done) == []
        assert len(done.pages) == 1, distance
        assert place_of(done.pdf, "Use within")[1] < place_of(done.pdf, "Cooked pearls")[1]


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("{{ card.titel }}", "titel"),
        ("{% if card.title %}", "looking for"),
        ("{{ nothing }}", "nothing"),
        ("{{ card.__class__.__mro__ }}", "unsafe"),
        ("{{ w.__class__.mro }}", "unsafe"),
        ("{{ ''.__class__ }}", "unsafe"),
        ("{% for n in range(100000000) %}{% endfor %}", "Range too big"),
        ("{{ 1 + card.title }}", "unsupported operand"),
        ("{{ 1 // 0 }}", "by zero"),
        ("{% include '../../secret.html' %}", "leaves the layout folder"),
        ("{% include '/etc/hostname' %}", "leaves the layout folder"),
    ],
)
def test_fault_in_a_template_is_found_at_its_file_and_line(own: Path, line: str, what: str) -> None:
    (own.parent / "secret.html").write_text("till code", "utf-8")
    path = put(own, "build/card.html", block("finish", line))
    wanted = 1 + path.read_text("utf-8").splitlines().index(line)
    done = printed(own)
    assert done.pdf == b""
    error = only_error(done)
    assert (error.code, error.name) == ("CARD12", "layout-broken")
    assert error.span is not None
    assert error.span.file == str(path)
    if what != "looking for":  # an open block is only missed at the end
        assert error.span.line == wanted
    assert what in error.message
    assert "till code" not in error.message


def test_a_template_that_calls_itself_without_end_is_the_layouts_fault(own: Path) -> None:
    path = put(
        own, "build/card.html", block("finish", "{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}")
    )
    error = only_error(printed(own))
    assert error.code == "CARD12"
    assert error.span is not None
    assert (error.span.file, error.span.line) == (str(path), 3)
    assert "recursion" in error.message


def test_many_cards_with_one_broken_layout_are_one_finding(own: Path) -> None:
    put(own, "build/card.html", block("finish", "{{ card.titel }}"))
    views = [replace(PLAIN, code=f"P{n}") for n in range(5)]
    error = only_error(render_pdf(views, RenderOptions(layouts=own)))
    assert error.subject == tuple(f"P{n}" for n in range(5))


def test_template_cannot_change_the_view(own: Path) -> None:
    put(own, "build/card.html", block("finish", "{{ card.keeps.append(1) }}"))
    assert only_error(render_pdf([BUILD], RenderOptions(layouts=own))).code == "CARD12"


def test_template_cannot_fetch(own: Path) -> None:
    picture = '<img src="http://127.0.0.1:9/x.png" alt="x">'
    put(own, "build/card.html", block("finish", picture))
    error = only_error(printed(own))
    assert "may not fetch http://127.0.0.1:9/x.png" in error.message
    put(own, "build/card.html", block("finish", picture.replace("http", "file")))
    assert "may not fetch" in only_error(printed(own)).message


def test_text_of_a_view_is_escaped_in_an_own_template(own: Path) -> None:
    put(own, "build/card.html", block("finish", "<p>{{ card.subtitle }}</p>"))
    view = replace(PLAIN, subtitle="<i>hot</i> & sweet")
    done = render_pdf([view], RenderOptions(layouts=own))
    assert "<i>hot</i> & sweet" in text(done)


@pytest.mark.parametrize(
    ("name", "content", "line", "what"),
    [
        ("shared/tokens.yaml", "colour:\n  ink: [\n", 3, "not YAML"),
        ("shared/tokens.yaml", "space:\n  gap: 2\n  margin: wide\n", 3, "margin is a number"),
        ("shared/tokens.yaml", "colour:\n  ink: 5\n", 2, "ink is a text"),
        ("shared/tokens.yaml", "- a\n", 1, "not a mapping"),
        ("build/card.html", b"<p>\n\xff</p>", 2, "not UTF-8"),
        ("words/en.yaml", "contains: 'a\n", 2, "not YAML"),
    ],
)
def test_fault_in_another_layout_file_is_found_at_its_line(
    own: Path, name: str, content: str | bytes, line: int, what: str
) -> None:
    path = put(own, name, content)
    done = printed(own)
    assert done.pdf == b""
    error = only_error(done)
    assert error.code == "CARD12"
    assert error.span is not None
    assert (error.span.file, error.span.line) == (str(path), line)
    assert what in error.message


@pytest.mark.parametrize(
    ("name", "line", "what"),
    [
        ("words/editions.en.yaml", 'draft_mark: "\u200b "', "draft_mark is blank"),
        ("words/en.yaml", 'draft_mark: ""', "draft_mark is blank"),
        ("words/en.yaml", 'draft_mark:\n  other: " "', "other is blank"),
        ("words/en.yaml", "draft_mark:", "draft_mark is a text, not None"),
        ("shared/tokens.yaml", "type:\n  amount: null", "amount is a number, not None"),
        ("shared/tokens.yaml", "type:\n  amount: .nan", "amount is a number, not nan"),
        ("shared/tokens.yaml", "type:\n  amount: yes", "amount is a number, not True"),
        ("shared/tokens.yaml", "type: [1, 2]", "type has entries of its own"),
        ("shared/tokens.yaml", "colour: red", "colour has entries of its own"),
    ],
)
def test_what_would_blank_or_break_a_card_is_told_at_its_line(
    own: Path, name: str, line: str, what: str
) -> None:
    put(own, name, f"# ours\n{line}\n")
    error = only_error(printed(own))
    assert what in error.message
    assert error.span is not None
    assert error.span.line == 1 + len(line.splitlines())


def test_word_that_asks_for_what_it_is_not_given(own: Path) -> None:
    put(own, "words/en.yaml", 'scan: "Scan {cod}"\n')
    error = only_error(printed(own))
    assert error.code == "CARD02"
    assert "'scan'" in error.message
    assert "cod" in error.message


@pytest.mark.parametrize(
    ("word", "told"),
    [
        ("{drink:>99999999999}", "holds more in its braces than a name"),
        ("{drink.__class__}", "holds more in its braces than a name"),
        ("{drink!r}", "holds more in its braces than a name"),
        ("{", "cannot be filled in"),
    ],
)
def test_words_hold_names_alone_in_braces(own: Path, word: str, told: str) -> None:
    put(own, "words/en.yaml", f'drink_with: "{word}"\n')
    with pytest.raises(LayoutMissing, match=told):
        Layouts(own).words("en")


@pytest.mark.parametrize(
    ("template", "told"),
    [
        ("{% for i in range(9999) %}{% for j in range(99999) %}{% endfor %}{% endfor %}", "0 s"),
        ("{{ 'a' * 99999999999 }}", "1000 MB of memory"),
        ("{{ '%99999999999d' % 1 }}", "1000 MB of memory"),
    ],
)
def test_a_layout_without_end_is_given_up(
    own: Path, template: str, told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("buildsheets.print.bounds.MOST_S", 0.4)
    put(own, "build/card.html", template)
    cards = render_cards([PLAIN, replace(PLAIN, title="Another")], RenderOptions(layouts=own))
    for card in cards:  # told for each, and tried once
        (found,) = card.findings
        assert found.code == "CARD12"
        assert told in found.message
        assert found.span is not None
        assert not card.pdf


def test_names_cannot_leave_the_folder(own: Path) -> None:
    for name in ("../secret.html", "/etc/hostname", "build/../../secret.html"):
        with pytest.raises(LayoutMissing, match="leaves the layout folder"):
            Layouts(own).data(name)


def test_shipped_layouts_are_templates_without_faults() -> None:
    templates = maker(Layouts(None)).environment
    names = [path.relative_to(shipped_root()).as_posix() for path in shipped_root().rglob("*.html")]
    assert len(names) >= 10
    for name in names:
        if not name.startswith(("site/", "preview/")):  # they have environments of their own
            templates.get_template(name)
    assert broken_layout(LayoutBroken(Path("a.yaml"), 3, "x")).span is not None


def test_reference_names_every_field_with_what_it_holds() -> None:
    reference = view_reference()
    kinds = view_types()
    assert len(kinds) > 20
    for kind in kinds:
        section = reference.split(f"### {kind.__name__}\n")[1].split("\n### ")[0]
        for field in fields(kind):
            assert f"| `{field.name}` | " in section, (kind.__name__, field.name)
    for name in ("`card`", "`w(", "`drawn`", "`part`", "`last`", "`size`", "shipped:"):
        assert name in reference
    assert '| `amount` | `str` | "120", "2", "½"; "" for an action |' in reference


def test_layouts_beside_the_menus_folder_are_told_of(tmp_path: Path) -> None:
    menu = tmp_path / "menu"
    menu.mkdir()
    assert misplaced_layouts(menu) == []
    (tmp_path / "layouts").mkdir()
    assert misplaced_layouts(menu) == []  # some other folder of that name
    put(tmp_path / "layouts", "build/style.css", STYLE)
    (note,) = misplaced_layouts(menu)
    assert (note.code, note.severity) == ("CARD17", Severity.NOTE)
    assert note.hint == f"move them inside: {menu / 'layouts'}"
    assert misplaced_layouts(menu / "shop.yaml") == [note]
    (menu / "layouts").mkdir()
    assert misplaced_layouts(menu) == []
    assert misplaced_layouts(shipped_root().parent / "menu") == []


def test_a_number_keeps_its_unit() -> None:
    for what in ("24 h at 5 °C", "2 pumps", "7 days"):
        keeps = tuple(f"{'cream ' * n}{what}" for n in range(9))
        done = render_pdf([replace(PLAIN, keeps=keeps)])
        assert errors(done) == []
        unit = what.split()[-1]
        lines = [box[4].strip() for box in text_boxes(done.pdf)]
        assert not any(line.startswith(unit) for line in lines), what
