"""The faults reading can find: a code and a place go in, a finding with its name comes out."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.findings.finding import Finding, Label, Mend, Severity, Span


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a menu's text: its name in words, its severity and what it is about."""

    name: str
    severity: Severity
    documentation: str


def _error(name: str, documentation: str) -> Fault:
    return Fault(name, Severity.ERROR, documentation)


FAULTS = {
    "TXT01": _error("path-missing", "The menu file or folder does not exist."),
    "TXT02": _error("file-unreadable", "The system does not let the file be read."),
    "TXT03": _error("no-menu-files", "A menu folder holds at least one .yaml or .yml file."),
    "TXT04": _error("too-large", "Files beyond a size no menu reaches are not read."),
    "TXT05": _error("not-utf8", "Menu files are saved as UTF-8, else letters turn to rubbish."),
    "TXT06": _error("control-character", "Characters nobody can see do not belong in a menu."),
    "TXT07": Fault("empty-file", Severity.WARNING, "A file without any entry adds nothing."),
    "TXT08": _error("yaml-syntax", "The text does not follow the rules of YAML."),
    "TXT09": _error("tab-indent", "YAML indents with spaces; a tab has no fixed width."),
    "TXT10": _error("sections-wanted", "A menu file is a list of sections, each `name:`."),
    "TXT11": _error("duplicate-key", "The same key twice: one of the two would be lost."),
    "TXT12": _error("anchor", "YAML anchors (&) and aliases (*) hide what a card says."),
    "TXT13": _error("tag", "YAML tags (!) are not used; the field decides how it is read."),
    "TXT14": _error("merge-key", "YAML merge keys (<<) hide what a card says."),
    "TXT15": _error("several-documents", "One file is one document; `---` may not divide it."),
    "TXT16": _error("key-not-text", "A key is a plain text, not a list or a mapping."),
    "TXT17": _error("too-deep", "Nesting beyond a depth no menu reaches is not read."),
    "TXT18": _error("no-menu", "None of the menu files has any entry."),
    "KEY01": _error("unknown-key", "A key that means nothing here is often a slip of the pen."),
    "KEY02": _error("missing-key", "A key that the entry cannot do without."),
    "VAL01": _error("wrong-shape", "A list, a mapping or a text stands where another is wanted."),
    "VAL02": _error("empty-value", "A key without a value."),
    "VAL03": _error("bad-number", "Numbers are digits with a decimal point, nothing else."),
    "VAL04": _error("bad-yes-no", "Yes or no, true or false; nothing else is one of them."),
    "VAL05": _error("bad-date", "Dates are written year-month-day (ISO 8601)."),
    "VAL06": _error("unknown-choice", "The field takes one of a few words."),
    "VAL07": _error("bad-id", "Ids are small letters, digits and hyphens, a letter first."),
    "VAL08": _error("unclear-amount", "An amount is one number and one unit with one meaning."),
    "VAL09": _error("bad-language", "Languages are written as BCP 47 tags: en, es, zh-Hant."),
}
"""Every fault that reading and decoding can report, by code."""


def fault(
    code: str,
    span: Span | None,
    message: str,
    *,
    hint: str = "",
    labels: tuple[Label, ...] = (),
    mends: tuple[Mend, ...] = (),
) -> Finding:
    """A finding of one of :data:`FAULTS`."""
    known = FAULTS[code]
    return Finding(
        code=code,
        name=known.name,
        severity=known.severity,
        span=span,
        message=message,
        labels=labels,
        mends=mends,
        hint=hint,
    )
