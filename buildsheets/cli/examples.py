"""Each command's examples, as its help shows them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

EXAMPLES: Mapping[str, Sequence[str]] = {
    "new": (
        "new",
        "new kiosk --units us --cups box",
        "new kiosk --from drinks.csv",
        "new demo --demo",
    ),
    "check": (
        "check",
        "check kiosk --strict",
        "check --watch",
        "check --diff",
        "check --fix",
        "check --format github",
        "check - < menu.yaml",
    ),
    "preview": ("preview", "preview kiosk --open", "preview --port 0"),
    "explain": (
        "explain marsh milk tea large less ice 50 + cap",
        "explain marsh-milk-tea --ice less --add add-cap",
    ),
    "measure": (
        "measure cup 20mm=45g 40mm=102g 60mm=170g",
        "measure box 91mm 114mm 505ml",
        "measure scoop 61 58 63 60 59",
        "measure ice 505 1000",
        "measure cap 238 120",
    ),
    "keys": ("keys", "keys drinks", "keys --format json-schema > menu/menu.schema.json"),
    "schema": ("schema plan",),
    "rule": ("rule", "rule FIT01"),
    "guide": ("guide", "guide printing", "guide --open", "guide --pdf guide.pdf"),
    "print": (
        "print",
        "print kiosk --only oat-mist --open",
        "print --changed --language en",
        "print --sheet A4 --flip long",
        "print kiosk harbour",
        "print --check",
    ),
    "proof": ("proof out/W26", "proof out/W26/en/brew/large.pdf"),
    "plan": ("plan saturday", "plan saturday kiosk --format pdf --open"),
    "buy": ("buy saturday", "buy friday saturday --format csv"),
    "labels": ("labels cooked-pearls=4 whole-milk --log", "labels --calendar"),
    "log": (
        "log",
        "log opened whole-milk",
        "log counted whole-milk 12 l",
        "log gone cooked-pearls --at 2027-03-01T21:30",
    ),
    "costs": ("costs", "costs --what-if whole-milk=1.55", "costs --options --format csv"),
    "facts": ("facts", "facts kiosk --format pdf"),
    "allergens": ("allergens", "allergens kiosk --format pdf"),
    "batch": ("batch parsnip-cream --packs 2", "batch parsnip-cream kiosk --portions large=30"),
    "publish": ("publish", "publish kiosk"),
    "compare": ("compare W26", "compare W26 S27 --sheet --open"),
    "current": ("current B-STHR5-Y r1", "current B-STHR5-Y r1 --day 2027-02-28"),
    "site": ("site", "site kiosk --open"),
    "learn": (
        "learn pack",
        "learn pack kiosk --language es --open",
        "learn sign-off",
        "learn sign-off --since W26",
        "learn sheet",
        "learn sheet --station brew --level 2 --seed 7 --count 3 --open",
        "learn sheet kiosk --level 3 --language es",
        "learn sheet --dry-runs --count 4",
        "learn score results.csv",
    ),
    "completion": ("completion bash > ~/.local/share/bash-completion/completions/buildsheets",),
}


def epilog(command: str) -> str:
    """A command's examples below its help; "" where it has none."""
    lines = "".join(f"  buildsheets {line}\n" for line in EXAMPLES.get(command, ()))
    return f"examples:\n{lines}" if lines else ""
