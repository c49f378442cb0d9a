"""Studies of a formula on a catalogue: each a function that gives a report, and `write_report`, which makes files of it.

Each name is loaded when it is first asked for, so that `import analysis` loads no library.

Examples
--------
>>> from analysis import weights
>>> report = weights("beds.yaml", "beds.csv", scores=["reading_upright"])
>>> print(report.verdict[0])
Reading upright: nothing is said of its weights, as 2 of its products have every part, and 3 are the least.
"""

from __future__ import annotations

import importlib
from types import FunctionType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.claims.report import check
    from analysis.comparison.report import compare
    from analysis.explanation.report import explain
    from analysis.flips.report import flip
    from analysis.importance.report import weights
    from analysis.indices.report import sensitivity
    from analysis.methods_appendix.report import appendix
    from analysis.next_readings.report import reread
    from analysis.rankings.report import stability
    from analysis.records.report import record
    from analysis.records.verification_report import verify
    from analysis.repeats.report import repeatability
    from analysis.report.files import write_report
    from analysis.report.report import Report
    from analysis.scores.report import score_report

#: Where each name of the door stands.
MODULES = {
    "Report": "analysis.report.report",
    "appendix": "analysis.methods_appendix.report",
    "check": "analysis.claims.report",
    "compare": "analysis.comparison.report",
    "explain": "analysis.explanation.report",
    "flip": "analysis.flips.report",
    "record": "analysis.records.report",
    "repeatability": "analysis.repeats.report",
    "reread": "analysis.next_readings.report",
    "score_report": "analysis.scores.report",
    "sensitivity": "analysis.indices.report",
    "stability": "analysis.rankings.report",
    "verify": "analysis.records.verification_report",
    "weights": "analysis.importance.report",
    "write_report": "analysis.report.files",
}
__all__ = [
    "Report",
    "appendix",
    "check",
    "compare",
    "explain",
    "flip",
    "record",
    "repeatability",
    "reread",
    "score_report",
    "sensitivity",
    "stability",
    "verify",
    "weights",
    "write_report",
]


def __getattr__(name: str) -> object:
    """A name of the door, from the module that holds it; faults of a function name its arguments, not a command's options."""
    if name not in MODULES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(importlib.import_module(MODULES[name]), name)
    if isinstance(found, FunctionType):
        found = importlib.import_module("analysis.report.arguments").by_arguments(found)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
