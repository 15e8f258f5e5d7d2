"""Modules go in; the small faults that could be put into them, and which of them no test notices,
come out.

    pip install cosmic-ray coverage
    python tests/mutation.py buildsheets/cup/dome.py [...] [--sample 80] [--seed 1] [--only 3 17]

Each fault is one of Cosmic Ray's mutations in a copy of the checkout. Of the tests that belong to
the module (`TESTS`) those that reach its line run on it, the quickest first, until one fails;
`--whole` runs them all, for what a cache kept from a test. It is no part of `.ci/run`.
"""

from __future__ import annotations

import argparse
import ast
import compileall
import importlib
import json
import os
import random
import re
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from py_compile import PycInvalidationMode
from typing import NamedTuple

import parso  # noqa: F401 (Cosmic Ray cannot be imported before it)
import pytest
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator, operator_names
from coverage import Coverage
from hypothesis import Phase, settings
from scipy.stats import binomtest

ROOT = Path(__file__).parent.parent
WARM = (
    "weasyprint", "pint", "babel.numbers", "pikepdf", "pypdfium2", "qrcode", "zxingcpp", "yaml",
    "numpy", "scipy.interpolate", "scipy.integrate", "CoolProp.CoolProp", "iapws", "uncertainties",
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
    "rules/shot_rules.py": "cup/test_shots.py rules/test_rules.py",
    "rules/slip_rules.py": "rules/test_slips.py",
    "rules/tool_steps.py": f"{RULES} rules/test_overfull.py",
    "rules/when_rules.py": "rules/test_when_rules.py",
}


TOLD = "reached.json"
"""Where the run without a fault leaves which tests reach what."""


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


class Reached:
    """Which tests reach which lines of the modules, and the seconds of the processor of each."""

    def __init__(self, modules: Sequence[Path], told: Path) -> None:
        self.told, self.seconds = told, dict[str, float]()
        self.coverage = Coverage(
            data_file=None, config_file=False, include=[str(module) for module in modules]
        )
        self.coverage.start()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.coverage.switch_context(item.nodeid)
        began = time.process_time()
        done = yield
        self.seconds[item.nodeid] = time.process_time() - began
        self.coverage.switch_context("")
        return done

    def pytest_sessionfinish(self) -> None:
        self.coverage.stop()
        data = self.coverage.get_data()
        lines = {path: data.contexts_by_lineno(path) for path in data.measured_files()}
        self.told.write_text(json.dumps([self.seconds, lines]), "utf-8")


def statement(source: str, line: int) -> range:
    """The lines of the statement around one, of a compound statement those of its head."""
    around = range(line, line + 1)
    for node in ast.walk(ast.parse(source)):  # the outer before the inner
        if isinstance(node, ast.stmt) and node.lineno <= line <= (node.end_lineno or 0):
            inner = [one for one in ast.iter_child_nodes(node) if isinstance(one, ast.stmt)]
            ends = min((one.lineno for one in inner), default=(node.end_lineno or 0) + 1)
            around = range(node.lineno, max(ends, node.lineno + 1))
    return around


def reaching(
    around: range, lines: dict[str, list[str]], tests: Sequence[str], seconds: dict[str, float]
) -> list[str]:
    """The tests to run on a fault in some lines: all where they run on import."""
    found = {test for line in around for test in lines.get(str(line), ())}
    of_module = [test for test in seconds if test.partition("::")[0] in tests]
    return sorted((t for t in of_module if "" in found or t in found), key=lambda t: seconds[t])


def exit_code(
    folder: Path, tests: Sequence[str], seconds: int, watch: Sequence[str] = ()
) -> tuple[int, float]:
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
        told = [Reached([folder / one for one in watch], folder / TOLD)] if watch else []
        os._exit(pytest.main([*asked, *tests], told))
    _, status, used = os.wait4(child, 0)
    return status, used.ru_utime + used.ru_stime


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("module", nargs="+")
    asked.add_argument("--sample", type=int, default=10_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", type=int, nargs="*", help="numbers of faults")
    asked.add_argument("--whole", action="store_true", help="run all tests of the module")
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


def tests_of(module: str) -> list[str]:
    return [f"tests/{one}" for one in TESTS[module.removeprefix("buildsheets/")].split()]


def run(folder: Path, options: argparse.Namespace) -> int:
    tests = list(dict.fromkeys(one for module in options.module for one in tests_of(module)))
    code, seconds = exit_code(folder, tests, 1200, options.module)
    if code:
        print("The tests fail without any fault.")
        return 2
    print(f"all tests of all modules: {seconds:.1f} s", flush=True)
    took, lines = json.loads((folder / TOLD).read_text("utf-8"))
    for module in options.module:
        put_in(folder, module, options, took, lines.get(str(folder / module), {}))
    return 0


def put_in(
    folder: Path,
    module: str,
    options: argparse.Namespace,
    took: dict[str, float],
    lines: dict[str, list[str]],
) -> None:
    """Put faults into one module and say which no test notices."""
    path, tests = folder / module, tests_of(module)
    source = path.read_text("utf-8")
    every = list(mutants(source))
    chosen = random.Random(options.seed).sample(every, min(options.sample, len(every)))
    if options.only is not None:
        chosen = [one for one in every if one.number in options.only]
    print(f"{module}: {len(every)} faults, {len(chosen)} tried", flush=True)
    killed, spent = 0, 0.0
    for one in sorted(chosen, key=lambda one: one.line):
        changed = mutate_code(source, get_operator(one.operator)(), one.occurrence) or source
        path.write_text(changed, "utf-8")
        reach = reaching(statement(source, one.line), lines, tests, took)
        seconds = 5 + int(3 * sum(took[test] for test in reach))
        code, used = 0, 0.0
        if options.whole:
            code, used = exit_code(folder, tests, 600)
        elif reach:
            code, used = exit_code(folder, reach, seconds)
        spent += used
        if code:
            killed += 1
            continue
        name = one.operator.removeprefix("core/")
        print(f"survives {one.number}: {name}, reached by {len(reach)} tests")
        pairs = zip(source.splitlines(), changed.splitlines(), strict=False)
        for line, (was, now) in enumerate(pairs, start=1):
            if was != now:
                print(f"  {module}:{line}\n  - {was.strip()}\n  + {now.strip()}")
        sys.stdout.flush()
    path.write_text(source, "utf-8")
    share = binomtest(killed, len(chosen)).proportion_ci(method="wilson")
    print(
        f"{module}: {killed} of {len(chosen)} noticed ({100 * killed / len(chosen):.0f} %, "
        f"95 % interval {100 * share.low:.0f} to {100 * share.high:.0f}), {spent:.0f} s",
        flush=True,
    )


if __name__ == "__main__":
    sys.exit(main())
