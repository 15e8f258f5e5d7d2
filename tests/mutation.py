"""A module goes in; the small faults that could be put into it, and which of them no test notices,
come out.

    pip install cosmic-ray
    python tests/mutation.py buildsheets/cup/dome.py [--sample 80] [--seed 1] [--only 3 17]

Each fault is one of Cosmic Ray's mutations in a copy of the checkout; the tests that belong to the
module (`TESTS`) run on it until one fails. It is no part of `.ci/run`.
"""

from __future__ import annotations

import argparse
import compileall
import importlib
import os
import random
import re
import resource
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from py_compile import PycInvalidationMode
from typing import NamedTuple

import parso  # noqa: F401 (Cosmic Ray cannot be imported before it)
import pytest
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator, operator_names
from hypothesis import Phase, settings
from scipy.stats import binomtest

ROOT = Path(__file__).parent.parent
WARM = (
    "weasyprint", "pint", "babel.numbers", "pikepdf", "pypdfium2", "qrcode", "zxingcpp", "yaml",
    "numpy", "scipy.interpolate", "scipy.integrate", "iapws", "uncertainties",
)  # fmt: skip
"""Heavy packages that each run of the tests needs: imported once, before it branches off."""

KINDS = re.compile(
    "core/("
    "ReplaceBinaryOperator_(Add|Sub|Mul|Div|FloorDiv|Mod|Pow)_(Add|Sub|Mul|Div)"
    "|ReplaceComparisonOperator_(Lt_LtE|Lt_GtE|LtE_Lt|LtE_Gt|Gt_GtE|Gt_LtE|GtE_Gt|GtE_Lt)"
    "|ReplaceComparisonOperator_(Eq_NotEq|NotEq_Eq|Is_IsNot|IsNot_Is)"
    "|ReplaceUnaryOperator_Delete_(USub|Not)|AddNot|NumberReplacer|ZeroIterationForLoop"
    "|ReplaceTrueWithFalse|ReplaceFalseWithTrue|ReplaceAndWithOr|ReplaceOrWithAnd"
    "|ReplaceBreakWithContinue|ReplaceContinueWithBreak|ExceptionReplacer)"
)
"""Those that change what is figured; not types, decorators, or operators no float takes."""
GUARD = re.compile(r"\b(frozen|slots|strict|compare|repr)=$")
"""Before what only guards against a slip of the programmer."""

BUILDS = "cup/test_reference.py cup/test_build.py"
BATCHES = "prep/test_batches.py prep/test_heaps.py prep/test_ten_batches.py prep/test_stock.py"
DRINKS = "prep/test_nutrition_of_drinks.py prep/test_clauses_eu.py prep/test_clauses_care.py"
RULES = "rules/test_rules.py rules/test_prep_rules.py rules/test_slips.py"
TESTS = {
    "cup/cup.py": "cup/test_cup.py",
    "cup/dome.py": "cup/test_dome.py",
    "cup/items.py": f"cup/test_fill.py cup/test_simple_rule.py cup/test_afloat.py {BUILDS}",
    "cup/contents.py": "cup/test_fill.py cup/test_line.py cup/test_strata.py cup/test_afloat.py "
    f"cup/test_steamed.py cup/test_dome.py {BUILDS}",
    "cup/strata.py": "cup/test_strata.py",
    "cup/fill.py": "cup/test_fill.py cup/test_line.py cup/test_dome.py cup/test_strata.py",
    "cup/holdback.py": "cup/test_holdback.py",
    "cup/search.py": "cup/test_search.py",
    "cup/chill.py": "cup/test_chill.py",
    "cup/tolerance.py": "cup/test_tolerance.py cup/test_spread.py",
    "cup/simulate.py": "cup/test_fill.py cup/test_line.py cup/test_blended.py cup/test_strata.py",
    "cup/measuring.py": "cup/test_measuring.py cup/test_head.py cup/test_build.py",
    "cup/room.py": "cup/test_one_figure.py cup/test_most_that_fits.py cup/test_spread.py",
    "cup/steps.py": "cup/test_head.py cup/test_blended.py cup/test_steamed.py cup/test_swaps.py "
    "cup/test_dome.py cup/test_order.py cup/test_shots.py cup/test_build.py",
    "prep/batches.py": f"{BATCHES} prep/test_scaling.py prep/test_loads.py",
    "prep/yields.py": "prep/test_yields.py prep/test_batches.py prep/test_scaling.py",
    "prep/cost.py": "prep/test_cost.py prep/test_cost_of_drinks.py prep/test_margin.py "
    "prep/test_swaps_sold.py prep/test_heaps.py cup/test_shots.py",
    "prep/nutrition.py": f"prep/test_nutrition.py {DRINKS} prep/test_swaps_sold.py",
    "prep/food_labels.py": f"prep/test_nutrition.py {DRINKS} prep/test_clauses_us.py",
    "prep/keeping.py": "prep/test_keeping.py prep/test_clauses_us.py prep/test_clauses_england.py "
    "prep/test_log.py prep/test_stock.py",
    "prep/keeping_dates.py": "prep/test_keeping_dates.py prep/test_keeping.py "
    "prep/test_clauses_us.py prep/test_clauses_england.py",
    "prep/dates.py": "prep/test_dates.py prep/test_stock.py",
    "prep/heat.py": "prep/test_heat.py prep/test_loads.py",
    "prep/loads.py": "prep/test_loads.py prep/test_dayplan.py prep/test_clauses_us.py",
    "prep/scaling.py": f"prep/test_scaling.py {BATCHES}",
    "rules/amounts.py": f"rules/test_amounts.py rules/test_overfull.py {RULES}",
    "rules/blend_rules.py": "cup/test_blended.py",
    "rules/fit_rules.py": f"{RULES} rules/test_overfull.py cup/test_steamed.py "
    "cup/test_head.py cup/test_afloat.py",
    "rules/gas_rules.py": f"{RULES} cup/test_head.py test_rulebook.py",
    "rules/guest_rules.py": f"{RULES} {DRINKS} prep/test_clauses_us.py cup/test_shots.py",
    "rules/keeping_rules.py": f"{RULES} prep/test_clauses_us.py prep/test_clauses_england.py",
    "rules/layer_rules.py": f"{RULES} cup/test_strata.py",
    "rules/menu_rules.py": f"{RULES} cup/test_shots.py cup/test_hot_and_iced.py",
    "rules/option_rules.py": f"{RULES} rules/test_overfull.py",
    "rules/order_rules.py": f"{RULES} cup/test_hot_and_iced.py",
    "rules/prep_rules.py": f"{RULES} prep/test_margin.py prep/test_heaps.py cup/test_shots.py",
    "rules/safety_rules.py": f"{RULES} cup/test_blended.py cup/test_steamed.py cup/test_shots.py "
    "prep/test_clauses_care.py prep/test_swaps_sold.py",
    "rules/shot_rules.py": "cup/test_shots.py",
    "rules/slip_rules.py": "rules/test_slips.py",
    "rules/tool_steps.py": f"{RULES} rules/test_overfull.py",
    "rules/when_rules.py": "rules/test_when_rules.py",
}


class Mutant(NamedTuple):
    number: int
    operator: str
    occurrence: int
    line: int


def mutants(source: str) -> Iterator[Mutant]:
    """Every fault of the kinds above that the source has a place for."""
    nodes, lines, number = list(ast_nodes(get_ast(source))), source.splitlines(), 0
    for name in filter(KINDS.fullmatch, operator_names()):
        operator = get_operator(name)()
        starts = [start for node in nodes for start, _ in operator.mutation_positions(node)]
        for occurrence, (line, column) in enumerate(starts):
            text = lines[line - 1]
            if text.strip() != "*," and not GUARD.search(text[:column]):
                number += 1
                yield Mutant(number, name, occurrence, line)


def exit_code(folder: Path, tests: list[str], seconds: int) -> tuple[int, float]:
    """How the tests ended in a process of their own, and its seconds of the processor."""
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
        resource.setrlimit(resource.RLIMIT_AS, (8 << 30, 8 << 30))
        quiet = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(quiet, stream)
        os.chdir(folder)
        sys.path.insert(0, str(folder))
        asked = ["-x", "-m", "not slow and not browser", "-p", "no:cacheprovider", "--tb=no"]
        asked += ["-n", "0", "--hypothesis-profile", "mutation"]
        os._exit(pytest.main([*asked, *tests]))
    _, status, used = os.wait4(child, 0)
    return status, used.ru_utime + used.ru_stime


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("module")
    asked.add_argument("--sample", type=int, default=10_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", type=int, nargs="*", help="numbers of faults")
    options = asked.parse_args()
    settings.register_profile(
        "mutation",
        max_examples=25,
        deadline=None,
        derandomize=True,
        database=None,
        phases=(Phase.explicit, Phase.generate),  # that it fails is enough
    )
    for name in WARM:
        importlib.import_module(name)
    sys.dont_write_bytecode = False
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for part in ("buildsheets", "layouts", "menu", "tests"):
            shutil.copytree(ROOT / part, folder / part)
        for part in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
            shutil.copy(ROOT / part, folder / part)
        # Checked by its content, so that two faults of one second and one size are told apart.
        mode = PycInvalidationMode.CHECKED_HASH
        compileall.compile_dir(folder / "buildsheets", quiet=2, invalidation_mode=mode)
        return run(folder, options)


def run(folder: Path, options: argparse.Namespace) -> int:
    path = folder / options.module
    tests = [f"tests/{one}" for one in TESTS[options.module.removeprefix("buildsheets/")].split()]
    source = path.read_text("utf-8")
    code, seconds = exit_code(folder, tests, 600)
    if code:
        print("The tests fail without any fault.")
        return 2
    every = list(mutants(source))
    chosen = random.Random(options.seed).sample(every, min(options.sample, len(every)))
    if options.only is not None:
        chosen = [one for one in every if one.number in options.only]
    print(f"{options.module}: {len(every)} faults, {len(chosen)} tried, tests {seconds:.1f} s")
    killed, spent = 0, 0.0
    for one in sorted(chosen, key=lambda one: one.line):
        changed = mutate_code(source, get_operator(one.operator)(), one.occurrence) or source
        path.write_text(changed, "utf-8")
        code, used = exit_code(folder, tests, 3 + int(2 * seconds))
        spent += used
        if code:
            killed += 1
            continue
        print(f"survives {one.number}: {one.operator.removeprefix('core/')}")
        pairs = zip(source.splitlines(), changed.splitlines(), strict=False)
        for line, (was, now) in enumerate(pairs, start=1):
            if was != now:
                print(f"  {options.module}:{line}\n  - {was.strip()}\n  + {now.strip()}")
        sys.stdout.flush()
    share = binomtest(killed, len(chosen)).proportion_ci(method="wilson")
    print(
        f"{options.module}: {killed} of {len(chosen)} noticed ({100 * killed / len(chosen):.0f} %, "
        f"95 % interval {100 * share.low:.0f} to {100 * share.high:.0f}), {spent:.0f} s"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
