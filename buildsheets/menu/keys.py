"""A mapping's keys against a record type's: the pair meant for each key and findings come out."""

from __future__ import annotations

from collections.abc import Mapping as Named
from dataclasses import replace

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Fix, Span
from buildsheets.findings.spelling import listed, nearest
from buildsheets.menu.nodes import Mapping, Pair, Scalar
from buildsheets.menu.schema import Key, Record, keys_of


def meant_keys(
    node: Mapping, kind: type[Record], owner: Scalar | None, findings: list[Finding]
) -> dict[Key, Pair]:
    """Which key each pair is meant for; reports former, unknown and missing keys."""
    known = keys_of(kind)
    meant = {known[p.key.text]: p for p in node.pairs if p.key.text in known}
    former = {key.was.key: key for key in known.values() if key.was and key not in meant}
    for pair in node.pairs:
        name = pair.key.text
        if name in former:
            meant[former[name]] = pair
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
        names = listed((f"`{key.key}`" for key in missing), "and")
        hint = "; ".join(f"{key.key}: {key.doc}" for key in missing if key.doc)
        message = f"{subject} lacks {names}"
        findings.append(finding("KEY02", place(node, owner), message, hint=hint))
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
    fixes = (Fix(f"write {new}", span, new),)
    return [finding("KEY03", span, f"`{old}` is now written `{new}`", hint=key.doc, fixes=fixes)]


def _unknown_key(key: Scalar, near: list[Key], left: list[Key]) -> Finding:
    if near:
        return finding(
            "KEY01",
            key.span,
            f"the key `{key.text}` is not known here; did you mean `{near[0].key}`?",
            fixes=(Fix(f"write {near[0].key}", key.span, near[0].key),),
        )
    hint = (
        f"Keys that can still stand here: {listed((one.key for one in left), 'and')}."
        if left
        else ""
    )
    return finding("KEY01", key.span, f"the key `{key.text}` is not known here", hint=hint)
