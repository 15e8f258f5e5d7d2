"""The faults a menu can have: a code and a place go in, a finding with its name comes out."""

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
    "KEY03": Fault(
        "former-key", Severity.NOTE, "A key or value has a new name; the former one is read still."
    ),
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
"""Every fault of a text and of a single value, by code."""

LINK_FAULTS = {
    "REF01": _error(
        "unknown-name",
        "A name must be declared somewhere in the menu; a slip of the pen would leave a hole "
        "in a build.",
    ),
    "REF02": _error(
        "name-twice",
        "Two things of one name: nobody could tell which one a step means.",
    ),
    "RNG01": _error(
        "value-out-of-range",
        "A value outside what is possible, such as a negative volume or a share over 100 %.",
    ),
    "SHP01": _error(
        "time-zone-unknown",
        "Discard times need the shop's own clock, by its IANA name.",
    ),
    "SHP02": _error(
        "card-size-unknown",
        "A card must have a size a printer and a pouch can take.",
    ),
    "SHP03": _error(
        "currency-unclear",
        "Prices need a currency by its three-letter code (ISO 4217).",
    ),
    "LNG01": _error(
        "language-unknown",
        "The fixed words of the cards exist in a few languages; a card half in another one "
        "teaches nobody.",
    ),
    "KEEP01": _error(
        "rules-incomplete",
        "A shop's own keeping rules must say days, cold and hot; a gap would let food stand.",
    ),
    "KEEP02": _error(
        "rules-loosened",
        "A shop may be stricter than the rules it follows, never looser (FDA Food Code "
        "3-501.16, 3-501.17; Food Safety and Hygiene (England) Regulations 2013, Schedule 4).",
    ),
    "EDN01": _error(
        "edition-ends-early",
        "An edition must end on or after the day it begins.",
    ),
    "EDN02": _error(
        "edition-code-unfit",
        "The edition's code names a folder and prints on each card.",
    ),
    "STN01": _error(
        "station-letter-unfit",
        "One letter marks a station, so that cards are told apart in grey print.",
    ),
    "STN02": _error(
        "station-letter-twice",
        "Two stations of one letter look alike in grey print.",
    ),
    "STN03": _error(
        "station-colour-unfit",
        "The accent must be a colour whose contrast can be checked.",
    ),
    "STN04": _error(
        "station-missing",
        "Each step happens somewhere; without a station it stands on no station card.",
    ),
    "TOOL01": _error(
        "tool-holds-missing",
        "A pump or scoop is a measure only when somebody has measured what one gives.",
    ),
    "TOOL02": _error(
        "tool-count-unclear",
        "'2 pumps' means something only for a component that is measured with a pump.",
    ),
    "CUP01": _error(
        "cup-geometry-unclear",
        "Fill lines come from the inside of the cup; it must be given in exactly one form.",
    ),
    "CUP02": _error(
        "cup-level-incomplete",
        "Each level of a cup needs its height and its partner.",
    ),
    "CUP03": _error(
        "cup-levels-unordered",
        "Levels rise from the floor to the rim; pour calibrations rise in both columns.",
    ),
    "CUP04": _error(
        "headspace-out-of-range",
        "What must stay empty under the lid lies between nothing and the whole cup.",
    ),
    "DEN01": _error(
        "density-without-source",
        "Tables disagree (granulated sugar 0.70 in FAO/INFOODS v2, 0.85 in USDA SR26), so a "
        "density counts only with its source.",
    ),
    "DEN02": _error(
        "density-missing",
        "A volume turns into grams, and grams into room in the cup, only through a density.",
    ),
    "DEN03": _error(
        "settled-density-missing",
        "A settled topping takes its particle volume and stands in a bed of its bulk volume; "
        "both densities are needed.",
    ),
    "DEN04": _error(
        "bulk-density-too-high",
        "A heap has gaps between its pieces, so a millilitre of it weighs less than a "
        "millilitre of the piece.",
    ),
    "BAT01": _error(
        "batch-needs-itself",
        "A batch that needs itself can never be made.",
    ),
    "BAT02": _error(
        "batch-empty",
        "A batch is made of something.",
    ),
    "BAT03": _error(
        "batch-lead-not-used",
        "A batch can only scale by packs of something in it.",
    ),
    "BAT04": _error(
        "yield-said-twice",
        "A yield is measured or figured; two would contradict.",
    ),
    "BAT05": _error(
        "pack-unknown",
        "'1 pack' means something only when the pack is declared.",
    ),
    "OPT01": _error(
        "add-ons-too-many",
        "Every combination is checked; more than two add-ons at once are not sold.",
    ),
    "OPT02": _error(
        "default-not-offered",
        "What is made when nobody says must be one of the levels.",
    ),
    "OPT03": _error(
        "add-on-is-ice",
        "Ice has its own levels; as an add-on it would be counted twice.",
    ),
    "DRK01": _error(
        "drink-without-cups",
        "A drink is sold in at least one cup.",
    ),
    "DRK02": _error(
        "amount-unclear",
        "A step says how much, or up to which line; never both.",
    ),
    "DRK03": _error(
        "line-needs-liquid",
        "Only a liquid finds its level; solids are weighed.",
    ),
    "DRK04": _error(
        "size-left-out",
        "Each step needs an amount for each cup the drink is sold in, or somebody will guess.",
    ),
    "DRK05": _error(
        "shake-pour-unclear",
        "Whether the shaken ice goes into the cup changes the level by a third of the drink.",
    ),
    "DRK06": _error(
        "makes-room-twice",
        "One base makes room for add-ons; two would each wait for the other.",
    ),
    "DRK07": _error(
        "drink-without-base",
        "Something must be able to make room for an add-on.",
    ),
    "DRK08": _error(
        "shaker-empty",
        "A shake needs something in the shaker.",
    ),
    "DRK09": _error(
        "shaker-not-poured",
        "What is left in the shaker never reaches the guest.",
    ),
    "DRK10": _error(
        "makes-room-no-base",
        "What makes room is a base: less topping is another drink.",
    ),
    "DAY01": _error(
        "day-closes-early",
        "A day must close after it opens.",
    ),
    "DAY02": _error(
        "time-of-day-unclear",
        "Prep is planned by the clock: 09:00, 20:30.",
    ),
}
"""Every fault of what values mean together, and why it matters at the counter."""

_ALL = {**FAULTS, **LINK_FAULTS}


def fault(
    code: str,
    span: Span | None,
    message: str,
    *,
    hint: str = "",
    labels: tuple[Label, ...] = (),
    mends: tuple[Mend, ...] = (),
) -> Finding:
    """A finding of one of the faults above."""
    known = _ALL[code]
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
