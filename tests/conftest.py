"""Makes the sample builders beside this file importable from every test folder, and prints the
demo menu once for all tests that look at it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

# Times are measured by the benchmarks, never judged by a test: a machine may be busy.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")

if TYPE_CHECKING:
    from printed_demo import Printed


@pytest.fixture(scope="session")
def demo_print(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Printed:
    """The demo published and printed; processes that test side by side share one print."""
    from printed_demo import Printed, print_once

    base = tmp_path_factory.getbasetemp()
    if hasattr(request.config, "workerinput"):
        base = base.parent
    folder = base / "printed-demo"
    folder.mkdir(exist_ok=True)
    return Printed(print_once(folder))
