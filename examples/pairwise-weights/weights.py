"""Weights of one score from comparisons of its parts, two at a time (the analytic hierarchy process).

    python weights.py FORMULA CATALOGUE COMPARISONS

prints the weights, how consistent the comparisons are, and how to try the weights. README.md says what the method is
and what it does not do. Nothing is written. Exit code 2 means that the input is wrong, each fault in one line.
"""

from __future__ import annotations

import argparse
import shlex
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from comparisons import MOST_PARTS, Comparisons, Judgement, read_comparisons
from numpy.typing import NDArray

from scoring.errors import SteelyardError
from scoring.reader import read_form

Array = NDArray[np.float64]

#: Mean consistency index of random reciprocal matrices, by the number of parts. README.md has the source.
RANDOM_INDEX = {2: 0.0, 3: 0.58, 4: 0.90, 5: 1.12, 6: 1.24, 7: 1.32, 8: 1.41, 9: 1.45}
CUSTOMARY_RATIO = 0.1
DECIMALS = 3


def principal_pair(matrix: Array) -> tuple[float, Array]:
    """The largest eigenvalue of a positive matrix, and its right eigenvector with sum 1 (Perron, Frobenius)."""
    values, vectors = np.linalg.eig(matrix)
    largest = int(np.argmax(values.real))
    vector = np.abs(vectors[:, largest].real)
    return float(values[largest].real), np.asarray(vector / vector.sum(), dtype=np.float64)


def priorities(matrix: Array) -> Array:
    """Weights from a matrix of pairwise comparisons: its principal right eigenvector.

    Parameters
    ----------
    matrix : ndarray, shape (n_parts, n_parts), above 0
        How many times as much the part of the row matters as the part of the column; reciprocal, 1 on the diagonal.

    Returns
    -------
    ndarray, shape (n_parts,), above 0, sum 1

    References
    ----------
    From memory: T. L. Saaty, A scaling method for priorities in hierarchical structures, J. Math. Psychology 15 (1977)
    234-281.
    """
    return principal_pair(matrix)[1]


def principal_eigenvalue(matrix: Array) -> float:
    """Lambda_max: the number of parts where the comparisons are consistent, and more where they are not."""
    return principal_pair(matrix)[0]


def consistency_index(matrix: Array) -> float:
    """CI = (lambda_max - n)/(n - 1), for n parts, 2 or more; rounding below 0 counts as 0."""
    n_parts = len(matrix)
    return max(0.0, (principal_eigenvalue(matrix) - n_parts) / (n_parts - 1))


def consistency_ratio(matrix: Array) -> float:
    """CR = CI/RI(n): inconsistency against that of random answers.

    Parameters
    ----------
    matrix : ndarray, shape (n_parts, n_parts), above 0, reciprocal; 2 to 9 parts

    Returns
    -------
    float
        0 for two parts, which cannot disagree.

    Raises
    ------
    ValueError
        No random index is at hand for so many parts.
    """
    n_parts = len(matrix)
    if n_parts not in RANDOM_INDEX:
        raise ValueError(f"{n_parts} parts; the table of random indices has 2 to {MOST_PARTS}")
    return consistency_index(matrix) / RANDOM_INDEX[n_parts] if n_parts > 2 else 0.0


def column_mean_approximation(matrix: Array) -> tuple[Array, float]:
    """What can be done by hand: weights as means over columns brought to sum 1, and lambda from the column sums.

    Returns
    -------
    weights : ndarray, shape (n_parts,), sum 1
        w_i = mean over j of a_ij/s_j, where s_j is the sum of column j.
    eigenvalue : float
        sum over j of s_j w_j; equal to lambda_max where the comparisons are consistent.
    """
    sums = matrix.sum(axis=0)
    weights: Array = (matrix / sums).mean(axis=1)
    return weights, float(sums @ weights)


def comparison_matrix(comparisons: Comparisons) -> Array:
    """The reciprocal matrix, shape (n_parts, n_parts), in the order of the score's parts."""
    index = {part: i for i, part in enumerate(comparisons.parts)}
    matrix = np.eye(len(index))
    for judgement in comparisons.judgements:
        i, j = index[judgement.first], index[judgement.second]
        matrix[i, j] = float(judgement.strength)
        matrix[j, i] = float(1 / judgement.strength)
    return matrix


def least_fitting(comparisons: Comparisons, weights: Array) -> tuple[Judgement, float]:
    """The judgement farthest, as a ratio, from what the weights say of its pair; and what they say, w_i/w_j."""
    weight = dict(zip(comparisons.parts, weights, strict=True))
    implied = [float(weight[one.first] / weight[one.second]) for one in comparisons.judgements]
    gaps = [
        round(abs(np.log(float(one.strength) / said)), 9)  # so that a tie falls to the one written first
        for one, said in zip(comparisons.judgements, implied, strict=True)
    ]
    farthest = int(np.argmax(gaps))
    return comparisons.judgements[farthest], implied[farthest]


def report(comparisons: Comparisons, formula: str, catalogue: str) -> Iterator[str]:
    """Every line that is printed."""
    matrix = comparison_matrix(comparisons)
    weights, name = priorities(matrix), comparisons.score.name
    yield f"Weights of {name} from {len(comparisons.judgements)} comparisons of its {len(weights)} parts"
    yield ""
    yield from _weights_table(comparisons, matrix, weights)
    yield ""
    yield from _consistency(comparisons, matrix, weights)
    shown = {part: f"{weight:.{DECIMALS}f}" for part, weight in zip(comparisons.parts, weights, strict=True)}
    yield ""
    yield f"To keep them, under scores.{name}:"
    yield "    weights: {" + ", ".join(f"{part}: {weight}" for part, weight in shown.items()) + "}"
    yield "To try them without touching the file:"
    yield f"    steelyard score {shlex.quote(formula)} {shlex.quote(catalogue)} --score {name} \\"
    settings = [f"        --set scores.{name}.weights.{part}={weight}" for part, weight in shown.items()]
    yield " \\\n".join(settings)


def _weights_table(comparisons: Comparisons, matrix: Array, weights: Array) -> Iterator[str]:
    by_hand = column_mean_approximation(matrix)[0]
    stated = np.array([part.weight.value if part.weight else 0.0 for part in comparisons.score.parts])
    width = max(len("part"), *(len(part) for part in comparisons.parts))
    yield f"{'part':<{width}}   weight   column means   in the formula"
    rows = zip(comparisons.parts, weights, by_hand, stated / stated.sum(), strict=True)
    for part, weight, approximate, share in rows:
        yield f"{part:<{width}}   {weight:>6.{DECIMALS}f}   {approximate:>12.{DECIMALS}f}   {share:>14.{DECIMALS}f}"


def _consistency(comparisons: Comparisons, matrix: Array, weights: Array) -> Iterator[str]:
    ratio = consistency_ratio(matrix)
    yield f"lambda_max {principal_eigenvalue(matrix):.4f}   CI {consistency_index(matrix):.4f}   CR {ratio:.4f}"
    if len(matrix) == 2:
        yield "One comparison cannot disagree with itself: with two parts CR says nothing."
        return
    verdict = "within" if ratio <= CUSTOMARY_RATIO else "above"
    then = "" if ratio <= CUSTOMARY_RATIO else ": ask again before using these weights"
    yield f"CR is {verdict} the customary {CUSTOMARY_RATIO:g}{then}."
    judgement, implied = least_fitting(comparisons, weights)
    factor = float(judgement.strength) / implied
    if abs(np.log(factor)) < 1e-6:
        yield "The comparisons agree with one another."
        return
    much = f"{max(factor, 1 / factor):.2f} times {'more' if factor > 1 else 'less'}"
    yield f"`{judgement}` disagrees most with the rest: it says {much} than the weights, which give {implied:.2f}."


def main(arguments: Sequence[str] | None = None) -> int:
    """Read, work out, print; 2 where the input is wrong."""
    parser = argparse.ArgumentParser(description="Weights of one score from pairwise comparisons of its parts.")
    parser.add_argument("formula", type=Path, metavar="FORMULA", help="the formula that has the score")
    parser.add_argument("catalogue", type=Path, metavar="CATALOGUE", help="readings, for the command that is printed")
    parser.add_argument("comparisons", type=Path, metavar="COMPARISONS", help="the comparisons, as comparisons.yaml")
    asked = parser.parse_args(arguments)
    try:
        comparisons = read_comparisons(asked.comparisons, read_form(asked.formula))
    except SteelyardError as fault:
        print(*fault.problems, sep="\n", file=sys.stderr)
        return 2
    print(*report(comparisons, str(asked.formula), str(asked.catalogue)), sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
