"""Lends these tests the invented shops of the law of the wall."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent.parent / "wall"))
