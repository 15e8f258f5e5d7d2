"""A linked menu and its layouts in; what cards in its languages could not say or draw, out.

``check`` tells this before anything is printed. A menu in the shipped languages and in Latin
letters, without layouts of its own, costs nothing here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from datetime import date
from pathlib import Path
from typing import Any
from unicodedata import name as name_of

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Source, Span
from buildsheets.findings.spelling import count_of, listed
from buildsheets.menu.model import Menu
from buildsheets.menu.nodes import Mapping as Node
from buildsheets.menu.nodes import Scalar, Sequence
from buildsheets.menu.schema import Record, Text
from buildsheets.menu.shop import LANGUAGES, WITH_WORDS

NAMED_AT_MOST = 5
TOKENS = "shared/tokens.yaml"  # where a shop names its typefaces
# Letters of the shipped typeface; a test holds them against it. A comment may have any others.
PLAIN_LETTERS = frozenset(map(chr, (9, 10, 13, *range(32, 127), *range(0xA0, 0x100)))) | set(
    "–—’“”…"
)
# Which font a machine may have for letters whose Unicode name begins so; others' fonts are called
# as their script. The names are those of the Noto fonts and of Debian's packages.
_EAST_ASIAN = {
    "CJK",
    "HIRAGANA",
    "KATAKANA",
    "HANGUL",
    "IDEOGRAPHIC",
    "FULLWIDTH",
    "KATAKANA-HIRAGANA",
}
_EAST_ASIAN_FONTS = {"zh": "SC", "zh-Hant": "TC", "ko": "KR"}
_LATIN_AND_LIKE = {"LATIN", "GREEK", "CYRILLIC"}


def undrawable(menu: Menu, sources: Mapping[str, Source], folder: Path | None) -> list[Finding]:
    """Languages without words or with few, and characters that no face of the cards can draw.

    ``folder`` is where the shop's own layouts may be.
    """
    own = folder if folder is not None and folder.is_dir() else None
    told = own is not None and any((own / name).exists() for name in (TOKENS, "words"))
    letters = set().union(*(source.text for source in sources.values()))
    if not told and letters <= PLAIN_LETTERS and set(menu.shop.languages) <= set(LANGUAGES):
        return []
    return list(_found(menu, own))


def _found(menu: Menu, own: Path | None) -> Iterator[Finding]:
    from buildsheets.print.layouts import LayoutMissing, Layouts
    from buildsheets.print.typeface import faces_of

    layouts, listed_at = Layouts(own), menu.shop.places.get("languages")
    each = listed_at.value.items if listed_at and isinstance(listed_at.value, Sequence) else ()
    spans = {item.text: item.span for item in each if isinstance(item, Scalar)}
    try:
        faces = faces_of(layouts)
        for language in menu.shop.languages:
            at = spans.get(language, menu.shop.at("languages"))
            if problem := list(_wordless(layouts, language, at)):
                yield from problem
                if any(one.code == "LNG01" for one in problem):
                    continue
            texts = [*_texts(menu, language), *((text, at) for text in _said(layouts, language))]
            yield from _glyphless(language, texts, faces)
    except LayoutMissing as broken:
        from buildsheets.print.templates import broken_layout

        yield broken_layout(broken)


def _wordless(layouts: Any, language: str, at: Span) -> Iterator[Finding]:
    """A language of the shop's own needs a list of words, all of them, and to be known to CLDR."""
    from buildsheets.menu.files import shipped_root
    from buildsheets.print.layouts import untranslated

    if language in LANGUAGES:
        return
    shipped = shipped_root() / "words"
    file = f"layouts/words/{language}.yaml"
    if layouts.own is None or not (layouts.own / "words" / f"{language}.yaml").is_file():
        message = f"there are no words for cards in '{language}': no {file} beside the menu"
        hint = f"{WITH_WORDS}, as {shipped} has them in English"
        yield finding("LNG01", at, message, hint, subject=(language,))
        return
    from babel import Locale, UnknownLocaleError

    try:
        Locale.parse(language, sep="-")
    except (UnknownLocaleError, ValueError):
        message = f"nothing is known of how '{language}' writes numbers and dates (CLDR)"
        yield finding("LNG01", at, message, WITH_WORDS, subject=(language,))
        return
    if borrowed := untranslated(layouts, language):
        words = layouts.words(language).catalogue
        message = (
            f"cards in '{language}' say {len(borrowed)} of {count_of(len(words), 'word')} in a "
            f"shipped language: {_some(borrowed)}"
        )
        hint = f"translate them in {file}, from the lists in {shipped}"
        yield finding("LNG03", at, message, hint, subject=(language,))


def _said(layouts: Any, language: str) -> Iterator[str]:
    """What cards say beside the menu's own texts: fixed words, numbers and dates."""
    words = layouts.words(language)
    for entry in words.catalogue.values():
        yield from map(str, entry.values()) if isinstance(entry, Mapping) else (str(entry),)
    if language not in LANGUAGES:  # a test has those
        yield words.number(1234.5) + words.percent(0.5) + words.list(["", "", ""])
        yield from (words.date(date(2026, month, 1)) for month in range(1, 13))


def _texts(menu: Menu, language: str) -> Iterator[tuple[str, Span]]:
    """Every text of the menu as a card in a language says it, with its place."""
    seen: set[int] = set()

    def of(value: object) -> Iterator[tuple[str, Span]]:
        if isinstance(value, Mapping):
            for one in value.values():
                yield from of(one)
        elif isinstance(value, tuple):
            for one in value:
                yield from of(one)
        elif isinstance(value, Record) and id(value) not in seen:
            seen.add(id(value))
            for field in fields(value):
                held = getattr(value, field.name)
                if isinstance(held, Text):
                    yield held.in_language(language), _place(value, field.name, language)
                elif field.name != "places":
                    yield from of(held)

    return of(menu)


def _place(record: Record, name: str, language: str) -> Span:
    node = record.places[name].value if name in record.places else None
    pairs = node.pairs if isinstance(node, Node) else ()
    spans = {pair.key.text: pair.value.span for pair in pairs}
    return spans.get(language, record.written(name).span)


def _glyphless(
    language: str, texts: Iterable[tuple[str, Span]], faces: tuple[Any, ...]
) -> Iterator[Finding]:
    """One finding for all characters of a language's cards that cannot be drawn, at the first."""
    from buildsheets.print.fonts import families, missing_glyphs

    lacking: dict[str, Span] = {}
    for text, span in texts:
        for char in missing_glyphs(text, faces):
            lacking.setdefault(char, span)
    if not lacking:
        return
    named = _some([f"{char} (U+{ord(char):04X})" for char in lacking])
    asked = listed(families(faces), "or")
    message = f"cards in '{language}' cannot be printed: {asked} cannot draw {named}"
    first = next(iter(lacking.values()))
    yield finding("CARD01", first, message, _cure(language, lacking), subject=(language,))


def _some(names: list[str]) -> str:
    more = len(names) - NAMED_AT_MOST
    return ", ".join(names[:NAMED_AT_MOST]) + (f" and {more} more" if more > 0 else "")


def _cure(language: str, lacking: Iterable[str]) -> str:
    """The line that names fonts which have the characters, and what to install for them."""
    from buildsheets.print.installed import installed

    fonts: dict[str, str] = {}
    for char in lacking:
        script = name_of(char, "").partition(" ")[0]
        if script in _EAST_ASIAN:
            kind = _EAST_ASIAN_FONTS.get(language) or _EAST_ASIAN_FONTS.get(language[:2], "JP")
            fonts.setdefault(f"Noto Sans CJK {kind}", "fonts-noto-cjk")
        elif char.isalpha():
            plain = script in _LATIN_AND_LIKE
            fonts.setdefault(
                "Noto Sans" + ("" if plain else f" {script.title()}"), "fonts-noto-core"
            )
    if not fonts:
        return "write it with other characters"
    line = f"typeface: {{installed: [{', '.join(fonts)}]}}"
    needed = sorted({package for family, package in fonts.items() if not installed(family)})
    install = f"install fonts that have them (on Debian: apt-get install {' '.join(needed)}) and "
    return f"{install if needed else ''}name them in layouts/{TOKENS}: {line}"
