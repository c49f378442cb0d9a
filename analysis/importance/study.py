"""The weights of each score on an actual catalogue: everything that is worked out of them, in one noun."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.asked import unknown_scores
from analysis.importance.attainable import EFFECTS, VARIANCE
from analysis.importance.benefit_of_the_doubt import benefit_of_the_doubt
from analysis.importance.first_places import FirstPlace, dominated, first_places
from analysis.importance.importance import FEWEST, Importance, importance, resampled, weighted_covariances
from analysis.importance.parts import WeightedParts, has_weights, weighted_parts
from analysis.importance.published import Published, published_shares
from analysis.importance.redundancy import Redundancy, redundancy
from analysis.importance.sought import REFUSED, WeightsSought, filled, sought_weights
from analysis.importance.wanted import share_with_weights
from analysis.runs import Executor, serially
from scoring.errors import Place, Problem, StudyError, nearest
from scoring.numbers.array_types import Array
from scoring.numbers.ordered_sums import covariance_of
from scoring.table.table import ScoreTable

#: Fewer products than this have no covariance worth the name.
LEAST_PRODUCTS = 3


@dataclass(frozen=True, slots=True, eq=False)
class ScoreWeights:
    """What the weights of one score are worth.

    why_not: why nothing is worked out, in words, "" where it is; then all but `name` and `label` may be None. first is empty
    where the blend is not linear in its weights. sought: the weights that would give wanted shares (main effects in the
    proportions of the stated weights, where nothing is asked); named: the parts of which a share is asked; published: what
    those weights give on the published score, None where there are none. in_resamples: the share of resamples of products in
    which the closed form has weights from 0 up, NaN where it was not the answer. best_case: the share
    of the leader's score that each product reaches under weights of its own choice, shape (products,); None where less is
    better, or a part is below 0.
    """

    name: str
    label: str
    why_not: str = ""
    parts: WeightedParts | None = None
    importance: Importance | None = None
    redundancy: Redundancy | None = None
    sought: WeightsSought | None = None
    named: tuple[str, ...] = ()
    published: Published | None = None
    in_resamples: float = float("nan")
    first: tuple[FirstPlace, ...] = ()
    beats: tuple[tuple[int, ...], ...] = ()
    best_case: Array | None = None


def weights_study(
    table: ScoreTable,
    only: Sequence[str],
    wants: Mapping[str, float],
    *,
    seed: int,
    share_of: str = VARIANCE,
    execute: Executor = serially,
) -> tuple[ScoreWeights, ...]:
    """What the weights of the scores asked for are worth; of all scores (of all blended ratings, without any) by default.

    Parameters
    ----------
    wants : part to wanted share, from 0 to 1
    share_of : what it is a share of: "variance", the score's variance, explained by the part by itself; "effects", all parts'
        such shares added up
    execute : works blocks of resamples out

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
    program = table.program
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
        asked = wanted_shares(parts, wants, share_of)
        named = tuple(part for part in parts.names if part in wants)
        weighed = weigh(parts, asked, share_of if named else EFFECTS, [seed, len(found_all)], execute=execute)
        found_all.append(replace(_published(weighed, table, [seed, len(found_all), 1]), named=named))
    return tuple(found_all)


def wanted_shares(parts: WeightedParts, wants: Mapping[str, float], share_of: str) -> Array:
    """The wanted share of every part, NaN where none is asked; of nothing asked at all, the stated weights' own.

    Raises
    ------
    StudyError : a name that is no part, or shares of the summed main effects that add to more than 1 (or, of all parts, not
        to 1); main effects themselves overlap, and add to anything
    """
    if not wants:
        return parts.shares
    problems = [
        Problem(Place("--want"), f"`{name}`", f"a part of {parts.output.name}", nearest(name, parts.names))
        for name in wants
        if name not in parts.names
    ]
    asked = np.array([wants.get(name, np.nan) for name in parts.names])
    total, rest = float(np.nansum(asked)), float(parts.shares[np.isnan(asked)].sum())
    adds_up = total <= 1 + 1e-9 and (rest > 0 or abs(total - 1) <= 1e-9)
    if not problems and share_of == EFFECTS and not adds_up:
        expected = "shares that add to 100 %" if rest <= 0 else "shares that add to 100 % at most"
        hint = "Of the score's variance (--share-of variance) they need not."
        problems = [Problem(Place("--want"), f"shares that add to {100 * total:g} %", expected, hint)]
    if problems:
        raise StudyError(problems)
    return asked


def weigh(
    parts: WeightedParts, wanted: Array, share_of: str, seed: Sequence[int], *, execute: Executor = serially
) -> ScoreWeights:
    """Everything about the weights of one score, but for what is scored again."""
    base = ScoreWeights(parts.output.name, parts.output.label, parts=parts)
    if len(parts.ids) < LEAST_PRODUCTS:
        return replace(
            base, why_not=f"{len(parts.ids)} of its products have every part, and {LEAST_PRODUCTS} are the least"
        )
    if np.ptp(parts.mean) <= 0 or np.ptp(parts.score) <= 0:
        return replace(base, why_not="it is the same for every product, so that there is no variance to share out")
    rng = np.random.default_rng(list(seed))
    better = parts.values if parts.best_is_high else -parts.values
    worth = importance(parts.values, parts.score, parts.shares, rng=rng, execute=execute)
    sought = sought_weights(covariance_of(parts.values), parts.shares, wanted, share_of, seed=seed[0])
    return replace(
        base,
        importance=worth,
        redundancy=redundancy(parts.values),
        sought=sought,
        in_resamples=_in_resamples(parts, sought, rng),
        first=first_places(better) if parts.linear else (),
        beats=dominated(better),
        best_case=_best_case(parts),
    )


def _in_resamples(parts: WeightedParts, sought: WeightsSought, rng: np.random.Generator) -> float:
    """In what share of resamples of products the closed form has weights from 0 up, where it alone gave the answer."""
    if sought.proportional is None or len(sought.attempts) > 1 or sought.state == REFUSED or len(parts.ids) < FEWEST:
        return float("nan")
    covariances = weighted_covariances(parts.values, resampled(len(parts.ids), rng))
    return share_with_weights(covariances, filled(sought.wanted, parts.shares))


def _published(found: ScoreWeights, table: ScoreTable, seed: Sequence[int]) -> ScoreWeights:
    """The same, with what the weights found give on the published score."""
    if found.parts is None or found.sought is None or np.isnan(found.sought.weights).any():
        return found
    rng, sought = np.random.default_rng(list(seed)), found.sought
    return replace(found, published=published_shares(table, found.parts, sought.weights, sought.share_of, rng))


def _best_case(parts: WeightedParts) -> Array | None:
    """Benefit of the doubt over the parts, where that has a meaning."""
    if not parts.linear or not parts.best_is_high or (parts.values < 0).any() or not (parts.values > 0).any():
        return None
    return benefit_of_the_doubt(parts.values)[0]
