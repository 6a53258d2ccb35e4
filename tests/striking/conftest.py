"""Makers of pieces and logs lie beside the tests, in `made_bands`, and a slow counter in `slow_count`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))  # for the modules beside the tests, which are no tests
