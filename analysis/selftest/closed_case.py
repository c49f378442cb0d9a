"""One closed case: a figure that is published, or known exactly, beside the same figure as it comes out here.

What works a case out is mostly a formula and a study of a few lines, written here as a user writes them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from numpy.typing import ArrayLike

from analysis.study import Study
from analysis.study.reader import read_study
from scoring.catalogue import from_arrays
from scoring.form import Form
from scoring.reader import read_sources
from scoring.table.table import ScoreTable, score_catalogue
from scoring.texts.source import Source

#: What binary fractions may leave of an equality, as a share of the figure, or of 1 where that is more.
DUST = 1e-12
EXACT = "exact but for the dust of binary fractions"


@dataclass(frozen=True, slots=True)
class ClosedCase:
    """A figure with a known answer, and ours.

    area: what it is about; name: which figure; source: author, year and place, and whether it was read, worked out here or is
    from memory; published: what stands there; within: how far ours may lie from it, 0 for equal; why: what sets `within`.
    """

    area: str
    name: str
    source: str
    published: float
    within: float
    why: str
    ours: float

    @property
    def holds(self) -> bool:
        """Whether ours lies as near as it must; never where it is not a number."""
        return abs(self.ours - self.published) <= self.within + DUST * max(1.0, abs(self.published))


def written(text: str) -> Form:
    """The form of a text."""
    return read_sources([Source("closed-case.yaml", text)])


def scored(form: Form, readings: Mapping[str, ArrayLike], products: Sequence[str]) -> ScoreTable:
    """The score table of readings given by measure, a value a product (or a row of repeats)."""
    return score_catalogue(form, from_arrays(products, readings))


def studied(text: str, table: ScoreTable) -> Study:
    """The study of a text, for a table."""
    return read_study(text, "closed-study.yaml", table.form, table.catalogue)


def of_constants(
    expression: str, varying: Mapping[str, str], correlations: Sequence[tuple[str, str, float]] = ()
) -> tuple[Study, ScoreTable]:
    """The study of one score `y` that is an expression of constants, each varying as a study file says it.

    Parameters
    ----------
    expression : of the names in `varying`
    varying : how each constant varies, such as `uniform: [0, 1]`
    correlations : pairs of constants with the correlation of their normal scores
    """
    constants = ", ".join(f"{name}: 0" for name in varying)
    form = written(
        f"formula: closed-case\nscale: {{from: -1000}}\nconstants: {{{constants}}}\n"
        f'measures: {{reading: {{unit: "1"}}}}\nscores: {{y: {{value: "reading + {expression}"}}}}\n'
    )
    lines = [f"  - {{address: constants.{name}, {how}}}" for name, how in varying.items()]
    tied = [
        f"  - {{between: [constants.{one}, constants.{other}], correlation: {value}}}"
        for one, other, value in correlations
    ]
    text = "\n".join(["study: closed-case", "vary:", *lines, *(["correlations:", *tied] if tied else []), ""])
    table = scored(form, {"reading": [0.0]}, ["only"])
    return studied(text, table), table
