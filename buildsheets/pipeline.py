"""The only module that knows all stages: a menu's path in, the checked menu and servings out."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from os.path import isdir  # false of what may not be looked at, where Path.is_dir raises
from pathlib import Path

from buildsheets.cup.errors import FigureError
from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Serving
from buildsheets.cup.steps import cup_of
from buildsheets.drawable import undrawable
from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Fix, Label, Source, any_error, sort_key
from buildsheets.menu.files import load_sources, own_layouts
from buildsheets.menu.model import AddStep, CupSize, Drink, LineTo, Menu, link
from buildsheets.menu.read import read
from buildsheets.rules.fit_rules import NO_FIX
from buildsheets.rules.fixes import fix_of_line
from buildsheets.rules.run import own_fault, run, without_allowed


@dataclass(frozen=True, slots=True)
class Checked:
    """A menu after all checks; ``menu`` is ``None`` when nothing could be linked."""

    sources: Mapping[str, Source]
    menu: Menu | None
    servings: tuple[Serving, ...]
    findings: tuple[Finding, ...]

    @property
    def stopped(self) -> bool:
        """Whether an error stands, so that nothing may be printed for the counter."""
        return any_error(self.findings)


def check(path: Path) -> Checked:
    """Read, link, figure and check a menu; every stage's findings in one list."""
    sources, findings = load_sources(path)
    return check_sources(sources, [*findings, *misplaced_layouts(path)], own_layouts(path))


def check_sources(
    sources: dict[str, Source], before: Sequence[Finding] = (), layouts: Path | None = None
) -> Checked:
    """The same of texts at hand; ``before`` is what was found on the way to them, and ``layouts``
    where the shop's own may be."""
    return judged(linked(sources, before, layouts))


def linked(
    sources: dict[str, Source], before: Sequence[Finding] = (), layouts: Path | None = None
) -> Checked:
    """Read, link and figure: the menu before any rule has looked at it."""
    root, more = read(sources)
    findings = [*before, *more]
    if root is None:
        return Checked(sources, None, (), tuple(sorted(findings, key=sort_key)))
    menu, more = link(root)
    findings += more
    servings, more = figured(menu)
    findings += [*more, *undrawable(menu, sources, layouts)]
    return Checked(sources, menu, servings, tuple(findings))


def judged(menu: Checked, drinks: Collection[str] | None = None) -> Checked:
    """A linked menu with the findings of the rules; with ``drinks``, what the rules say of these
    alone: enough to tell whether one that was just changed may be shown."""
    if menu.menu is None:
        return menu
    looked_at = [one for one in menu.servings if drinks is None or one.drink.id in drinks]
    complete = drinks is None and not any_error(menu.findings)
    findings = [*menu.findings, *run(menu.menu, looked_at, complete=complete)]
    findings = without_allowed(findings, menu.menu.allows)
    return replace(menu, findings=tuple(sorted(findings, key=sort_key)))


def misplaced_layouts(menu: Path) -> list[Finding]:
    """A note where a shop's layouts lie beside the menu's folder, and so change nothing."""
    own = own_layouts(menu)
    beside = own.parent.resolve().parent / "layouts"
    shipped = Path(__file__).resolve().parent.parent / "layouts"
    if isdir(own) or beside == shipped:
        return []
    if not any(isdir(beside / kind) for kind in ("shared", "words", "build", "station")):
        return []  # some other folder of that name
    message = f"the layouts in {beside} are not read: they lie beside the menu's folder"
    hint = f"move them inside: {own}"
    return [finding("CARD17", None, message, hint=hint)]


def figured(menu: Menu) -> tuple[tuple[Serving, ...], list[Finding]]:
    """The default build of every drink in every cup; what cannot be figured drops out."""
    servings: list[Serving] = []
    findings: dict[Finding, None] = {}
    for drink in menu.drinks.values():
        for size in drink.cups:
            try:
                servings.append(figure(drink, size))
            except FigureError as refused:
                findings[_refused(menu, drink, size, refused)] = None
            except Exception as error:
                findings[own_fault(f"figuring {drink.id} in {size.id}", error)] = None
    return tuple(servings), list(findings)


def _refused(menu: Menu, drink: Drink, size: CupSize, refused: FigureError) -> Finding:
    """Why a drink has no levels: its cup's headspace, a line of its own, or something rarer."""
    labels = (Label(size.shape_written.span, f"the cup: {size.shape_written.text}"),)
    headspace = size.written("headspace")
    if refused.input_name.startswith("headspace"):
        message = f"the headspace of cup {size.id} is {headspace.text}, which {refused.reason}"
        hint = "write what must stay empty under the lid"
        return finding(
            "FIT08", headspace.span, message, labels=labels, hint=hint, subject=(size.id,)
        )
    span, what, hint = drink.span, f"{refused.input_name} {refused.value}", ""
    reason, fixes = refused.reason, tuple[Fix, ...]()
    for step in drink.steps:
        if not isinstance(step, AddStep):
            continue
        made = step.amounts.get(size.id)
        if isinstance(made, LineTo) and refused.value in (made.line_ml, made.line_mm):
            span = made.written.span
            what = f"the line {made.written.text}"
            if made.line_ml is not None:
                brimful_ml = cup_of(size.shape).brimful_ml
                reason = f"the cup holds {size.volumes.text(brimful_ml)} to the rim"
            fixes = fix_of_line(menu, drink, size, step)
            hint = "or sell it in a larger cup" if fixes else NO_FIX
    message = f"{drink.id} in {size.id}: {what} cannot be figured: {reason}"
    subject = (drink.id, size.id)
    return finding("FIT08", span, message, labels=labels, fixes=fixes, hint=hint, subject=subject)
