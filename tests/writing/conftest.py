"""The tracer that kills programs stands beside the tests of publishing; these tests use it too."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "publish"))
