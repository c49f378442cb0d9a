"""Formulas as text, compiled to numbers: the form, the program, the kernel, the score table.

The door for Python and notebooks stands here: `read_formula`, `read_catalogue` and `score`, which take paths, what was read
from them, and pandas frames of readings. Each name is loaded when it is first asked for, so that `import scoring` loads no
library.

Examples
--------
>>> from scoring import read_catalogue, read_formula, score
>>> formula = read_formula("beds.yaml")
>>> beds = read_catalogue("beds.csv", formula)
>>> table = score(formula, beds)
>>> table.frame("reading_upright")[["shown", "rank", "band", "status"]]
         shown  rank    band   status
product
A-01       7.8   2.0  strong    rated
A-02       8.6   1.0  strong    rated
A-03       5.4   3.0    fair  partial
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scoring.door.formula import Formula, read_catalogue, read_formula, score
    from scoring.errors import SteelyardError

__all__ = ["Formula", "SteelyardError", "read_catalogue", "read_formula", "score"]


def __getattr__(name: str) -> object:
    """A name of the door, from the module that holds it."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module = "scoring.errors" if name == "SteelyardError" else "scoring.door.formula"
    return getattr(importlib.import_module(module), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
