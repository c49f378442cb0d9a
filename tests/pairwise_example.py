"""The example of pairwise comparisons as a module, found as a script finds its neighbour."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "pairwise-weights"


def load_example() -> ModuleType:
    """The example's program."""
    sys.path.insert(0, str(EXAMPLE))
    try:
        found = importlib.util.spec_from_file_location("pairwise_weights_example", EXAMPLE / "weights.py")
        assert found is not None
        assert found.loader is not None
        module = importlib.util.module_from_spec(found)
        found.loader.exec_module(module)
    finally:
        sys.path.remove(str(EXAMPLE))
    return module


WEIGHTS = load_example()
