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
    import pypdfium2
    from printed_demo import Printed as PrintedDemo

    from buildsheets.print.render import Printed


@pytest.fixture(scope="session")
def demo_print(
    tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest
) -> PrintedDemo:
    """The demo published and printed; processes that test side by side share one print."""
    from printed_demo import Printed, print_once

    base = tmp_path_factory.getbasetemp()
    if hasattr(request.config, "workerinput"):
        base = base.parent
    folder = base / "printed-demo"
    folder.mkdir(exist_ok=True)
    return Printed(print_once(folder))


@pytest.fixture(scope="session")
def rendered() -> Printed:
    """The four sample cards in one PDF."""
    from card_samples import BUILD, BUILD_ES, PLAIN, STATION

    from buildsheets.print.render import RenderOptions, render_pdf

    options = RenderOptions(title="Kiosk cards", author="Tin Roof Kiosk", edition="2026-3")
    return render_pdf((BUILD, BUILD_ES, PLAIN, STATION), options)


@pytest.fixture
def document(rendered: Printed) -> pypdfium2.PdfDocument:
    """The same PDF, opened."""
    import pypdfium2

    return pypdfium2.PdfDocument(rendered.pdf)
