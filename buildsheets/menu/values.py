"""Keys and single values: nodes and what a record declares go in, the pair meant for each key, the
value of a text, and findings come out."""

from __future__ import annotations

import re
from collections.abc import Mapping as Named
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any, Literal, get_args, get_origin
from unicodedata import combining, normalize

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Fix, Span
from buildsheets.findings.spelling import likeliest, listed, nearest
from buildsheets.menu.nodes import Mapping, Node, Pair, Scalar, Sequence
from buildsheets.menu.quantity import MAX_DIGITS, Measures, Quantity, QuantityError, parse_quantity
from buildsheets.menu.schema import (
    ID_PATTERN,
    LANGUAGE_PATTERN,
    Form,
    Id,
    Key,
    Kinds,
    Record,
    Text,
    keys_of,
)

YES_NO = {"yes": True, "true": True, "no": False, "false": False}

NUMBER_PATTERN = r"[-+]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_LANGUAGE = re.compile(LANGUAGE_PATTERN)
_NUMBER = re.compile(NUMBER_PATTERN)


def read_text(node: Node, findings: list[Finding]) -> Text | None:
    """A text for everybody, or one for each language; None after findings."""
    if isinstance(node, Sequence):
        findings.append(wrong_shape(node, "a text, or a text for each language"))
        return None
    if isinstance(node, Scalar):
        text = node.text.strip()
        if not text:
            findings.append(empty(node.span))
        return Text({"": text}) if text else None
    texts: dict[str, str] = {}
    before = len(findings)
    for pair in node.pairs:
        language, value = pair.key.text, pair.value
        if not _LANGUAGE.fullmatch(language):
            message = f"“{language}” is not a language"
            hint = "Write languages as en, es, zh-Hant (BCP 47)."
            findings.append(finding("VAL09", pair.key.span, message, hint))
        if not isinstance(value, Scalar):
            findings.append(wrong_shape(value, "a text"))
        elif value.text.strip():
            texts[language] = value.text.strip()
        elif not value.broken:
            findings.append(empty(pair.key.span, language))
    if not node.pairs and not node.broken:
        findings.append(empty(node.span))
    complete = len(findings) == before and 0 < len(texts) == len(node.pairs)
    return Text(texts) if complete else None


def wrong_shape(node: Node, wanted: str, hint: str = "") -> Finding:
    """The finding for a list, a mapping or a text where another is wanted."""
    found = {Scalar: "a single value", Sequence: "a list", Mapping: "entries (key: value)"}
    message = f"{found[type(node)]} found, {wanted} wanted"
    return finding("VAL01", node.span, message, hint)


def single(node: Scalar, kind: Any, notes: tuple[Any, ...], measures: Measures | None) -> Any:
    """Read the text of a node as a value of ``kind``, or say in a finding why it is none.

    ``notes`` are the annotations beside it: :class:`Id`, :class:`Kinds`, :class:`Form`.
    """
    text = node.text.strip()
    if not text:
        return empty(node.span)
    forms = [note for note in notes if isinstance(note, Form)]
    if forms:
        form, value = forms[0], forms[0].read(text)
        if value is None:
            return finding(form.code, node.span, form.message.format(text), form.hint)
        return value
    if (words := choices_of(kind)) is not None:
        return _choice(text, node.span, words)
    if kind is str:
        return (Id() in notes and bad_id(text, node.span)) or text
    if kind is bool:
        if text.casefold() in YES_NO:
            return YES_NO[text.casefold()]
        message = f"“{text}” is neither yes nor no"
        return finding("VAL04", node.span, message, "Write yes or no.")
    kinds = [note for note in notes if isinstance(note, Kinds)]
    if kind is Quantity:
        return _quantity(text, node.span, kinds[0] if kinds else Kinds(), measures)
    if kind is float and kinds:
        read = _quantity(text, node.span, kinds[0], measures)
        return kinds[0].times * read.value if isinstance(read, Quantity) else read
    if kind is int or kind is Decimal:
        return _number(text, node.span, kind)
    if kind is float:
        number = _number(text, node.span, Decimal)
        return number if isinstance(number, Finding) else float(number)
    if kind is date:
        return _date(text, node.span)
    raise TypeError(f"no reading is declared for {kind}")


def empty(span: Span, key: str = "") -> Finding:
    """The finding for a key without a value."""
    hint = "Write the value, or leave out the key."
    if key in ("contains", "may_contain"):
        hint = "Write what its label names: [milk]; write [] only if the label names none."
    return finding("VAL02", span, f"`{key}` has no value" if key else "the value is missing", hint)


def choices_of(kind: Any) -> list[str] | None:
    """The words a choice allows; None when ``kind`` is no choice."""
    return [str(word) for word in get_args(kind)] if get_origin(kind) is Literal else None


def bad_id(text: str, span: Span) -> Finding | None:
    """A finding for a text that is not an id, or None."""
    if ID_PATTERN.fullmatch(text):
        return None
    letters = normalize("NFKD", text.casefold().replace("œ", "oe").replace("æ", "ae"))
    plain = "".join(one for one in letters if not combining(one))  # purée: puree
    better = re.sub("[^a-z0-9]+", "-", plain).strip("-")
    hint = (
        "Ids are small letters a to z, digits and hyphens, with a letter first, 60 at most, and "
        "no name that Windows keeps for a device, such as con or nul."
    )
    fixes = write(better, span) if ID_PATTERN.fullmatch(better) else ()
    return finding("VAL07", span, f"“{text}” is not an id", hint, fixes=fixes)


def write(text: str, span: Span, because: str = "") -> tuple[Fix, ...]:
    """The fix of writing a text at a place."""
    words = f"write {text}" + (f" ({because})" if because else "")
    return (Fix(words, span, text),)


def without_comma(text: str, span: Span, decimal: bool = True) -> tuple[Fix, ...]:
    """The fixes of a number with a comma, with a unit or without; none for another text."""
    match = re.fullmatch(r"([-+]?[0-9]+),([0-9]+)(\D.*)?", text)
    if match is None:
        return ()
    whole, rest, unit = match[1], match[2], match[3] or ""
    fixes = write(f"{whole}.{rest}{unit}", span, "a decimal comma") if decimal else ()
    if len(rest) == 3:
        fixes += write(f"{whole}{rest}{unit}", span, "a comma between the thousands")
    return fixes


def _choice(text: str, span: Span, words: list[str]) -> str | Finding:
    if text in words:
        return text
    fixes = tuple(fix for word in likeliest(text, words) for fix in write(word, span))
    return finding("VAL06", span, f"“{text}” is not one of {listed(words)}", fixes=fixes)


def _number(text: str, span: Span, kind: type[int] | type[Decimal]) -> int | Decimal | Finding:
    if len(text) > MAX_DIGITS:
        return finding("VAL03", span, f"the number is longer than {MAX_DIGITS} characters")
    if _NUMBER.fullmatch(text) and (kind is Decimal or "." not in text):
        return kind(text)
    wanted = "a number" if kind is Decimal else "a whole number"
    fixes = without_comma(text, span, decimal=kind is Decimal)
    message = f"“{text}” is not {wanted} written in digits"
    hint = "Write digits only: 3, without unit."
    if kind is Decimal:
        hint = "Write digits and a decimal point only: 1200 or 3.5, without unit or exponent."
    return finding("VAL03", span, message, hint, fixes=fixes)


def _date(text: str, span: Span) -> date | Finding:
    match = re.fullmatch(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})", text)
    if match is None:
        message = f"“{text}” is not a date"
        hint = "Write year-month-day, as in 2026-12-01: other orders are read in two ways."
        return finding("VAL05", span, message, hint)
    try:
        day = date(int(match[1]), int(match[2]), int(match[3]))
    except ValueError:
        return finding("VAL05", span, f"there is no day {text} in the calendar")
    if day.isoformat() == text:
        return day
    message = f"“{text}” lacks a 0 before a single digit"
    return finding("VAL05", span, message, fixes=write(day.isoformat(), span))


def _quantity(text: str, span: Span, kinds: Kinds, measures: Measures | None) -> Quantity | Finding:
    try:
        return parse_quantity(text, measures, kinds.names, plain_ounces=kinds.plain_ounces)
    except QuantityError as error:
        fixes = [fix for one in error.choices for fix in write(one.write, span, one.because)]
        return finding("VAL08", span, error.message, error.hint, fixes=tuple(fixes))


def meant_keys(
    node: Mapping, kind: type[Record], owner: Scalar | None, findings: list[Finding]
) -> dict[Key, Pair]:
    """Which key each pair is meant for; reports former, unknown and missing keys."""
    known = keys_of(kind)
    meant = {known[p.key.text]: p for p in node.pairs if p.key.text in known}
    former = {key.was.key: key for key in known.values() if key.was and key not in meant}
    meant |= {former[p.key.text]: p for p in node.pairs if p.key.text in former}
    for key, pair in meant.items():
        if key.was:
            findings += _former(key, key.was.values, pair)
    for pair in node.pairs:
        if pair.key.text in known or pair.key.text in former:
            continue
        left = [key for key in known.values() if key not in meant]
        left.sort(key=lambda key: not key.required)
        spelt = {key.key: key for key in left} | {k.was.key: k for k in left if k.was}
        near = [spelt[name] for name in nearest(pair.key.text, spelt)]
        findings.append(_unknown_key(pair.key, near, left))
        if near:
            meant[near[0]] = pair
    missing = [key for key in known.values() if key.required and key not in meant]
    if missing and not node.broken:
        subject = f"`{owner.text}`" if owner else "this entry"
        message = f"{subject} lacks {listed((f'`{key.key}`' for key in missing), 'and')}"
        hint = "; ".join(f"{key.key}: {key.doc}" for key in missing if key.doc)
        findings.append(finding("KEY02", place(node, owner), message, hint))
    return meant


def place(node: Mapping, owner: Scalar | None) -> Span:
    """Where to point for a whole entry: at its key, else at its first line's key."""
    if owner is not None:
        return owner.span
    return node.pairs[0].key.span if node.pairs else node.span


def _former(key: Key, values: Named[str, str], pair: Pair) -> list[Finding]:
    """A note on a key or a value of a former name, which is read all the same."""
    name, node = pair.key, pair.value
    text = node.text if isinstance(node, Scalar) else ""
    old, new, span = name.text, key.key, name.span
    if text in values and node.span.line == span.line:
        old, new = f"{old}: {text}", f"{new}: {values[text]}"
        span = replace(span, end_line=node.span.end_line, end_column=node.span.end_column)
    elif text in values and old == new:
        old, new, span = text, values[text], node.span
    if old == new:
        return []
    message = f"`{old}` is now written `{new}`"
    return [finding("KEY03", span, message, key.doc, fixes=write(new, span))]


def _unknown_key(key: Scalar, near: list[Key], left: list[Key]) -> Finding:
    if near:
        message = f"the key `{key.text}` is not known here; did you mean `{near[0].key}`?"
        return finding("KEY01", key.span, message, fixes=write(near[0].key, key.span))
    can_stand = listed((one.key for one in left), "and")
    hint = f"Keys that can still stand here: {can_stand}." if left else ""
    return finding("KEY01", key.span, f"the key `{key.text}` is not known here", hint)
