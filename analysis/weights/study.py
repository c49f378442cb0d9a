"""The weights of each score on an actual catalogue: everything that is worked out of them, in one noun."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.asked_scores import unknown_scores
from analysis.ordered_sums import covariance_of
from analysis.weights.doubt import benefit_of_the_doubt
from analysis.weights.importance import FEWEST, Importance, importance, resampled, weighted_covariances
from analysis.weights.parts import WeightedParts, has_weights, weighted_parts
from analysis.weights.redundancy import Redundancy, redundancy
from analysis.weights.wanted import (
    FirstPlace,
    WantedWeights,
    dominated,
    first_places,
    share_with_weights,
    wanted_weights,
)
from scoring.errors import Place, Problem, StudyError, nearest
from scoring.program import compile_form
from scoring.table import ScoreTable

Array = NDArray[np.float64]
#: Fewer products than this have no covariance worth the name.
LEAST_PRODUCTS = 3


@dataclass(frozen=True, slots=True, eq=False)
class ScoreWeights:
    """What the weights of one score are worth.

    why_not: why nothing is worked out, in words, "" where it is; then all but `name` and `label` may be None. first is empty
    where the blend is not linear in its weights. named: the parts whose wanted importance was asked for. best_case: the share
    of the leader's score that each product reaches under weights of its own choice, shape (products,); None where less is
    better, or a part is below 0.
    """

    name: str
    label: str
    why_not: str = ""
    parts: WeightedParts | None = None
    importance: Importance | None = None
    redundancy: Redundancy | None = None
    wanted: WantedWeights | None = None
    named: tuple[str, ...] = ()
    first: tuple[FirstPlace, ...] = ()
    beats: tuple[tuple[int, ...], ...] = ()
    best_case: Array | None = None


def weights_study(
    table: ScoreTable, only: Sequence[str], wants: Mapping[str, float], *, seed: int
) -> tuple[ScoreWeights, ...]:
    """What the weights of the scores asked for are worth; of all scores (of all blended ratings, without any) by default.

    Parameters
    ----------
    wants : part to wanted share of the importance, above 0 to 1; the others keep the proportions of their weights

    Raises
    ------
    StudyError : a score that is not there, wants for more than one score, or wants that do not fit its parts
    """
    columns = {column.output.name: column for column in table.scores + table.ratings}
    unknown = unknown_scores(only, columns)
    if unknown:
        raise StudyError(unknown)
    blended = [column.output.name for column in table.ratings if has_weights(column.output)]
    names = list(dict.fromkeys(only)) or [column.output.name for column in table.scores] or blended
    if wants and len(names) != 1:
        found = f"{len(names)} scores: {', '.join(names)}"
        raise StudyError([Problem(Place("--want"), found, "one score", "Name it with --score.")])
    program = compile_form(table.form)
    found_all = []
    for name in names:
        output = columns[name].output
        if not has_weights(output):
            if wants:
                raise StudyError(
                    [Problem(Place("--want"), f"`{name}`, which has no weights", "a score that blends parts")]
                )
            why = "it is an expression" if output.value is not None else "it has one part only"
            found_all.append(ScoreWeights(name, output.label, f"it has no weights to look at: {why}"))
            continue
        parts = weighted_parts(program, table, name)
        wanted, named = wanted_shares(parts, wants)
        found_all.append(weigh(parts, wanted, named, np.random.default_rng([seed, len(found_all)])))
    return tuple(found_all)


def wanted_shares(parts: WeightedParts, wants: Mapping[str, float]) -> tuple[Array, tuple[str, ...]]:
    """The wanted importance of every part, adding to 1: as asked, the rest in proportion to the stated weights.

    Raises
    ------
    StudyError : a name that is no part, or shares that add to more than 1 (or, of all parts, not to 1)
    """
    problems = [
        Problem(Place("--want"), f"`{name}`", f"a part of {parts.output.name}", nearest(name, parts.names))
        for name in wants
        if name not in parts.names
    ]
    asked = np.array([wants.get(name, np.nan) for name in parts.names])
    free, total = np.isnan(asked), float(np.nansum(asked))
    rest = float(parts.shares[free].sum())
    if not problems and (total > 1 + 1e-9 or (rest <= 0 and abs(total - 1) > 1e-9)):
        expected = "shares that add to 100 %" if rest <= 0 else "shares that add to 100 % at most"
        problems = [Problem(Place("--want"), f"shares that add to {100 * total:g} %", expected)]
    if problems:
        raise StudyError(problems)
    scaled = parts.shares * max(0.0, 1 - total) / rest if rest > 0 else parts.shares
    return np.where(free, scaled, asked), tuple(name for name in parts.names if name in wants)


def weigh(parts: WeightedParts, wanted: Array, named: tuple[str, ...], rng: np.random.Generator) -> ScoreWeights:
    """Everything about the weights of one score."""
    base = ScoreWeights(parts.output.name, parts.output.label, parts=parts, named=named)
    if len(parts.ids) < LEAST_PRODUCTS:
        return replace(
            base, why_not=f"{len(parts.ids)} of its products have every part, and {LEAST_PRODUCTS} are the least"
        )
    if np.ptp(parts.mean) <= 0 or np.ptp(parts.score) <= 0:
        return replace(base, why_not="it is the same for every product, so that there is no variance to share out")
    covariance = covariance_of(parts.values)
    solved = wanted_weights(covariance, wanted)
    if len(parts.ids) >= FEWEST and solved.state != "refused":
        counts = resampled(len(parts.ids), rng)
        solved = replace(solved, held=share_with_weights(weighted_covariances(parts.values, counts), wanted))
    better = parts.values if parts.best_is_high else -parts.values
    return replace(
        base,
        importance=importance(parts.values, parts.score, parts.shares, rng=rng),
        redundancy=redundancy(parts.values),
        wanted=solved,
        first=first_places(better) if parts.linear else (),
        beats=dominated(better),
        best_case=_best_case(parts),
    )


def _best_case(parts: WeightedParts) -> Array | None:
    """Benefit of the doubt over the parts, where that has a meaning."""
    if not parts.linear or not parts.best_is_high or (parts.values < 0).any() or not (parts.values > 0).any():
        return None
    return benefit_of_the_doubt(parts.values)[0]
