"""A shop's own layouts lie over the shipped ones, cannot reach beyond them, and say what broke."""

from __future__ import annotations

import io
from dataclasses import fields, replace
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from buildsheets.print.accessible import AccessibleOptions, accessible
from buildsheets.print.page import Pages
from card_samples import BUILD, PLAIN

from buildsheets.findings.finding import Finding, Severity
from buildsheets.print.layouts import LayoutBroken, LayoutMissing, Layouts, shipped_root
from buildsheets.print.render import RenderedPdf, RenderOptions, render_pdf
from buildsheets.print.templates import broken_layout, environment
from buildsheets.views.reference import view_reference, view_types


@pytest.fixture
def own(tmp_path: Path) -> Path:
    folder = tmp_path / "layouts"
    folder.mkdir()
    return folder


def put(own: Path, name: str, text: str | bytes) -> Path:
    path = own / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def printed(own: Path | None) -> RenderedPdf:
    return render_pdf([PLAIN], RenderOptions(layouts=own, title="t"))


def text(done: RenderedPdf) -> str:
    page = pypdfium2.PdfDocument(done.pdf)[0]
    return str(page.get_textpage().get_text_range())


def only_error(done: RenderedPdf) -> Finding:
    (error,) = [f for f in done.findings if f.severity is Severity.ERROR]
    return error


CARD = (shipped_root() / "build" / "card.html").read_text("utf-8")


def test_own_template_is_used_and_the_rest_stays_shipped(own: Path) -> None:
    put(own, "build/card.html", CARD.replace("</section>", "<p>House rules</p></section>"))
    assert "House rules" in text(printed(own))
    assert "House rules" not in text(printed(None))
    assert "Ginger bark tea" in text(printed(own))


def test_own_tokens_change_what_they_name_and_no_more(own: Path) -> None:
    put(own, "shared/tokens.yaml", 'colour:\n  ink: "#003366"\n')
    tokens = Layouts(own).tokens()
    assert tokens["colour"]["ink"] == "#003366"
    assert tokens["colour"]["paper"] == Layouts(None).tokens()["colour"]["paper"]
    image = pypdfium2.PdfDocument(printed(own).pdf)[0].render(scale=2).to_pil().convert("RGB")
    colours = {colour for _, colour in image.getcolors(1 << 20) or []}
    assert (0x00, 0x33, 0x66) in colours
    plain = pypdfium2.PdfDocument(printed(None).pdf)[0].render(scale=2).to_pil().convert("RGB")
    assert (0x00, 0x33, 0x66) not in {colour for _, colour in plain.getcolors(1 << 20) or []}


def test_own_words_change_what_they_name(own: Path) -> None:
    put(own, "words/en.yaml", 'proof_bar: "fifty millimetres, please"\n')
    assert "fifty millimetres" in text(printed(own)).replace("\r\n", " ")
    assert Layouts(own).words("en")("may_contain") == Layouts(None).words("en")("may_contain")


def test_own_style_is_used(own: Path) -> None:
    style = (shipped_root() / "build" / "style.css").read_text("utf-8")
    put(own, "build/style.css", style + "\n.build h1.t { color: #c00000; }\n")
    image = pypdfium2.PdfDocument(printed(own).pdf)[0].render(scale=3).to_pil().convert("RGB")
    assert (0xC0, 0, 0) in {colour for _, colour in image.getcolors(1 << 20) or []}


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("{{ card.titel }}", "titel"),
        ("{% if card.title %}", "end of template"),
        ("{{ nothing }}", "nothing"),
        ("{{ card.__class__.__mro__ }}", "unsafe"),
        ("{{ zone.__globals__ }}", "unsafe"),
        ("{{ ''.__class__ }}", "unsafe"),
        ("{% for n in range(100000000) %}{% endfor %}", "Range too big"),
        ("{{ 1 + card.title }}", "unsupported operand"),
        ("{{ 1 // 0 }}", "by zero"),
        ("{% include '../../secret.html' %}", "leaves the layout folder"),
        ("{% include '/etc/hostname' %}", "leaves the layout folder"),
        ("{{ zone('attic') }}", ""),
    ],
)
def test_fault_in_a_template_is_found_at_its_file_and_line(own: Path, line: str, what: str) -> None:
    (own.parent / "secret.html").write_text("till code", "utf-8")
    path = put(own, "build/card.html", CARD.replace('{{- zone("head") }}', f"\n{line}\n"))
    wanted = 1 + path.read_text("utf-8").splitlines().index(line)
    done = printed(own)
    assert done.pdf == b""
    error = only_error(done)
    assert (error.code, error.name) == ("CARD12", "layout-broken")
    assert error.span is not None
    assert error.span.file == str(path)
    if what != "end of template":  # an open block is only missed at the end
        assert error.span.line == wanted
    assert what in error.message
    assert "till code" not in error.message


def test_many_cards_with_one_broken_layout_are_one_finding(own: Path) -> None:
    put(own, "build/card.html", CARD.replace('{{- zone("head") }}', "{{ card.titel }}"))
    views = [replace(PLAIN, code=f"P{n}") for n in range(5)]
    error = only_error(render_pdf(views, RenderOptions(layouts=own)))
    assert error.subject == tuple(f"P{n}" for n in range(5))


def test_template_cannot_change_the_view(own: Path) -> None:
    put(own, "build/card.html", CARD.replace("{{ art }}", "{{ art }}{{ card.keeps.append(1) }}"))
    assert only_error(render_pdf([BUILD], RenderOptions(layouts=own))).code == "CARD12"


def test_template_cannot_fetch(own: Path) -> None:
    picture = '<img src="http://127.0.0.1:9/x.png" alt="x"></section>'
    put(own, "build/card.html", CARD.replace("</section>", picture))
    error = only_error(printed(own))
    assert "may not fetch http://127.0.0.1:9/x.png" in error.message
    put(own, "build/card.html", CARD.replace("</section>", picture.replace("http", "file")))
    assert "may not fetch" in only_error(printed(own)).message


def test_text_of_a_view_is_escaped_in_an_own_template(own: Path) -> None:
    put(own, "build/card.html", CARD.replace("</section>", "<p>{{ card.subtitle }}</p></section>"))
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


def test_word_that_asks_for_what_it_is_not_given(own: Path) -> None:
    put(own, "words/en.yaml", 'scan: "Scan {cod}"\n')
    error = only_error(printed(own))
    assert error.code == "CARD02"
    assert "'scan'" in error.message
    assert "cod" in error.message


def test_names_cannot_leave_the_folder(own: Path) -> None:
    for name in ("../secret.html", "/etc/hostname", "build/../../secret.html"):
        with pytest.raises(LayoutMissing, match="leaves the layout folder"):
            Layouts(own).data(name)


def test_accessible_edition_has_own_layouts_too(own: Path) -> None:
    options = AccessibleOptions("t", "en", layouts=own)
    shipped = (shipped_root() / "accessible" / "document.html").read_text("utf-8")
    put(own, "accessible/document.html", shipped.replace("<h1>", "<p>Our own</p><h1>"))
    done = accessible([PLAIN], options)
    assert "Our own" in pypdfium2.PdfDocument(done.pdf)[0].get_textpage().get_text_range()
    path = put(own, "accessible/document.html", "<title>{{ title }}</title>\n{{ views[0].nme }}")
    (error,) = accessible([PLAIN], options).findings
    assert error.span is not None
    assert (error.span.file, error.span.line) == (str(path), 2)
    with pikepdf.open(io.BytesIO(done.pdf)) as held:
        assert "/StructTreeRoot" in held.Root


def test_shipped_layouts_are_templates_without_faults() -> None:
    templates = environment(Layouts(None))
    names = [path.relative_to(shipped_root()).as_posix() for path in shipped_root().rglob("*.html")]
    assert len(names) >= 10
    for name in names:
        if not name.startswith("site/"):
            templates.get_template(name)
    Pages(Layouts(None))
    assert broken_layout(LayoutBroken(Path("a.yaml"), 3, "x")).span is not None


def test_reference_names_every_field_with_what_it_holds() -> None:
    reference = view_reference()
    kinds = view_types()
    assert len(kinds) > 20
    for kind in kinds:
        section = reference.split(f"### {kind.__name__}\n")[1].split("\n### ")[0]
        for field in fields(kind):
            assert f"| `{field.name}` | " in section, (kind.__name__, field.name)
    for name in ("`card`", "`w`", "`drawn`", "`id`", "`parts_count`", "`size`", "`signs`"):
        assert name in reference
    assert '| `amount` | `str` | "120", "2", "½"; "" for an action |' in reference
