"""What sensitivity indices err by, for how many runs, and how often their intervals hold the true value. By hand:

    PYTHONPATH=.:tests python tests/sensitivity_coverage.py known --replications 1000
    PYTHONPATH=.:tests python tests/sensitivity_coverage.py laboratory --score two_abed --replications 1000 --points 512

`known`: functions whose indices are known, at some sizes, and where a sample is doubled until all half-widths are within
0.05 or 0.02. Beside the estimates that are used stand, at as many runs, those of Saltelli et al. 2010, table 2 (b) and (f),
which need no run of the second sample with a swap, and the estimates from other numbers of blocks. `laboratory`: every
quantity of a score of the invented laboratory, by group (`--factors`: and by argument), against all replications together.
`tests/reference/test_sensitivity_indices.py` runs a small version.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from known_indices import (
    ADDITIVE,
    G_FIRST,
    G_TOTAL,
    ISHIGAMI_FIRST,
    ISHIGAMI_TOTAL,
    PRODUCT_FIRST,
    PRODUCT_TOTAL,
    Array,
    additive,
    g_function,
    ishigami,
    product,
)

from analysis.cli.studies import load_for_study
from analysis.indices.design import BaseSample, Design, swaps_of
from analysis.indices.sobol import BLOCKS, Indices, Sums, indices, near_mean
from analysis.trials.quantities import quantities_of
from analysis.trials.trials import compile_trials

KNOWN: dict[str, tuple[Callable[[Array], Array], list[float], list[float]]] = {
    "ishigami": (ishigami, ISHIGAMI_FIRST, ISHIGAMI_TOTAL),
    "g function": (g_function, G_FIRST, G_TOTAL),
    "additive": (additive, ADDITIVE, ADDITIVE),
    "product": (product, PRODUCT_FIRST, PRODUCT_TOTAL),
}
SIZES = (256, 512, 1024)
#: So many replications are worked out at a time.
AT_ONCE = 50
LABORATORY = Path(__file__).resolve().parents[1] / "examples" / "laboratory"


def side_by_side(columns: int, points: int, replications: int, seed: int, blocks: int) -> tuple[Array, Array]:
    """Both samples of some studies: (blocks, points, studies, columns), each study of scrambles of its own."""
    both = BaseSample(columns, seed, blocks * replications).upto(points)
    a, b = (each.reshape(replications, blocks, points, columns).transpose(1, 2, 0, 3) for each in both)
    return a, b


def sums_of(function: Callable[[Array], Array], a: Array, b: Array) -> Sums:
    """The sums of one function, every study an output of its own."""
    blocks, points, studies, columns = a.shape
    flat = [each.reshape(blocks * points, studies, columns) for each in (a, b)]
    sums = Sums(np.full(studies, function(flat[0]).mean()), columns, n_blocks=blocks, design="side by side")
    base = sums.add_base(*(function(each) for each in flat), design="side by side")
    for swap in range(columns):
        mixed = [each.copy() for each in flat]
        mixed[0][..., swap], mixed[1][..., swap] = flat[1][..., swap], flat[0][..., swap]
        sums.add_swap(swap, *(function(each) for each in mixed), *base)
    return sums


def plain(function: Callable[[Array], Array], a: Array, b: Array) -> tuple[Array, Array]:
    """First order and total by [Saltelli et al. 2010, table 2 (b), (f)], shape (columns, studies): no run of B with a swap."""
    at_a, at_b = function(a), function(b)
    mean = (at_a.mean(axis=(0, 1)) + at_b.mean(axis=(0, 1))) / 2
    variance = (at_a.var(axis=(0, 1)) + at_b.var(axis=(0, 1))) / 2
    first, total = [], []
    for swap in range(a.shape[-1]):
        mixed = a.copy()
        mixed[..., swap] = b[..., swap]
        change = function(mixed) - at_a
        first.append(((at_b - mean) * change).mean(axis=(0, 1)) / variance)
        total.append((change**2).mean(axis=(0, 1)) / (2 * variance))
    return np.stack(first), np.stack(total)


def ends(found: Indices) -> Iterator[tuple[Array, Array, Array]]:
    """First order and total with their ends, shape (swaps, q)."""
    yield found.first, found.first_low, found.first_high
    yield found.total, found.total_low, found.total_high


def missed_by(found: Indices, exact: tuple[Array, Array]) -> tuple[Array, Array]:
    """Errors, and whether intervals hold, shape (2, swaps, q)."""
    errors = np.stack([value - true for (value, _, _), true in zip(ends(found), exact, strict=True)])
    held = np.stack([(low <= true) & (true <= high) for (_, low, high), true in zip(ends(found), exact, strict=True)])
    return errors, held


def at_known(name: str, replications: int) -> None:
    """One function whose indices are known."""
    function, first, total = KNOWN[name]
    k, exact = len(first), (np.array(first)[:, np.newaxis], np.array(total)[:, np.newaxis])
    for size in SIZES:
        errors, held = [], []
        for seed in range(replications // AT_ONCE):
            sample = side_by_side(k, size // BLOCKS, AT_ONCE, seed, BLOCKS)
            found = indices(sums_of(function, *sample), design="side by side")
            for gathered, each in zip((errors, held), missed_by(found, exact), strict=True):
                gathered.append(each)
        _tell(
            f"{name}, {size} base points, {(2 * k + 2) * size} runs", np.concatenate(errors, 2), np.concatenate(held, 2)
        )
    for blocks, size in ((32, 2 * SIZES[1]), (8, 2 * SIZES[1])):
        errors = []
        for seed in range(replications // AT_ONCE):
            found = plain(function, *side_by_side(k, size // blocks, AT_ONCE, seed, blocks))
            errors.append(np.stack(found) - np.stack(exact))
        _tell(f"  Saltelli and Jansen, {blocks} blocks, {(k + 2) * size} runs", np.concatenate(errors, 2))
    for within in (0.05, 0.02):
        _tell_stopped(name, replications, within)


def _tell_stopped(name: str, replications: int, within: float) -> None:
    """Doubled until every half-width is within a bound, from the second step on, as a study does."""
    function, first, total = KNOWN[name]
    exact = (np.array(first)[:, np.newaxis], np.array(total)[:, np.newaxis])
    held, sizes = [], []
    for seed in range(replications // AT_ONCE):
        whole = side_by_side(len(first), 4096 // BLOCKS, AT_ONCE, seed, BLOCKS)
        going = np.ones(AT_ONCE, bool)
        for size in (512, 1024, 2048, 4096):
            part = [each[:, : size // BLOCKS, going] for each in whole]
            found = indices(sums_of(function, *part), design="side by side")
            widest = np.max([(high - low).max(axis=0) / 2 for _, low, high in ends(found)], axis=0)
            ended = (widest <= within) | (size == 4096)
            held.append(missed_by(found, exact)[1][..., ended])
            sizes += [size] * int(ended.sum())
            going[np.flatnonzero(going)[ended]] = False
            if not going.any():
                break
    rate = np.concatenate(held, axis=2).mean()
    print(f"  doubled until within {within}: held {rate:.3f}, {np.mean(sizes):.0f} base points on average", flush=True)


def _tell(what: str, errors: Array, held: Array | None = None) -> None:
    rms = np.sqrt((errors**2).mean(axis=(1, 2)))
    line = f"{what}: error of first order {rms[0]:.4f}, of total {rms[1]:.4f}"
    if held is not None:
        single = held.mean(axis=2)
        line += f"; held {held[0].mean():.3f} and {held[1].mean():.3f}, single indices {single.min():.3f} to {single.max():.3f}"
    print(line, flush=True)


def at_laboratory(score: str, replications: int, points: int, *, factors: bool) -> None:
    """Every quantity of one score of the invented laboratory, with what the study derived from its formula varies."""
    study, table = load_for_study(LABORATORY / "guest-bed.yaml", LABORATORY, [], None, only=[score], pairs=[], top=None)
    trials = compile_trials(study, table.catalogue)
    asked = quantities_of(study.form, table.column(score), table.catalogue.products, study.top, study.pairs)
    reaching = [factor for factor in study.factors if trials.reaches(factor.name, score)]
    swaps = tuple(swap for swap in swaps_of(reaching, "kind") if factors or swap.level == "group")
    together = Sums(np.zeros(len(asked.names)), len(swaps), design="all")
    singles: list[Indices] = []
    at_once = 8
    for seed in range(replications // at_once):
        design = Design(study, swaps, points // BLOCKS, 1_000 + seed, n_blocks=BLOCKS * at_once)
        one, other = next(design.pieces(0, design.points, design.points))
        base, turned = one.and_then(other), other.and_then(one)

        def halves(draws: object) -> Array:
            values = asked.of(trials.scores(study.setting(draws))[score])  # type: ignore[arg-type]
            return values.reshape(2, at_once, -1, values.shape[1])

        outputs = [halves(base), *(halves(design.mixed(base, turned, swap)) for swap in swaps)]
        if seed == 0:
            together.shift[:] = near_mean(outputs[0].reshape(-1, len(asked.names)))
        for replication in range(at_once):
            sums = Sums(together.shift, len(swaps), design="one")
            for into, name in ((sums, "one"), (together, "all")):
                centred = into.add_base(*outputs[0][:, replication], design=name)
                for number, swapped in enumerate(outputs[1:]):
                    into.add_swap(number, *swapped[:, replication], *centred)
            singles.append(indices(sums, design="one"))
        if seed % 16 == 0:
            print(f"... {len(singles)} replications", flush=True)
    true = indices(together, design="all")
    levels = np.array([swap.level for swap in swaps])
    print(f"{score}, {len(singles)} replications of {points} base points, {(2 * len(swaps) + 2) * points} runs each")
    for family in dict.fromkeys(name for name, _ in asked.names):
        at = asked.family(family)
        known = np.flatnonzero(np.isfinite(true.total[:, at]).all(axis=0)) + at.start
        for level in dict.fromkeys(levels):
            rows = levels == level
            errors, held = _of_family(singles, true, rows, known)
            _tell(f"  {family}, {len(known)} of them, by {level}", errors, held)


def _of_family(singles: list[Indices], true: Indices, rows: Array, known: Array) -> tuple[Array, Array]:
    """Errors and whether intervals hold, shape (2, swaps * q, replications), of what has indices in every replication."""
    exact = tuple(each[rows][:, known] for each in (true.first, true.total))
    errors, held = [], []
    for one in singles:
        values = [tuple(end[rows][:, known] for end in each) for each in ends(one)]
        errors.append([value - at for (value, _, _), at in zip(values, exact, strict=True)])
        held.append([(low <= at) & (at <= high) for (_, low, high), at in zip(values, exact, strict=True)])
    shape = (len(singles), 2, -1)
    gaps = np.isnan(np.reshape(errors, shape)).any(axis=(0, 1))
    return tuple(np.reshape(each, shape)[..., ~gaps].transpose(1, 2, 0) for each in (errors, held))  # type: ignore[return-value]


def main() -> None:
    """What the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["known", "laboratory"])
    parser.add_argument("--replications", type=int, default=1000)
    parser.add_argument("--points", type=int, default=512)
    parser.add_argument("--score", default="two_abed")
    parser.add_argument("--factors", action="store_true")
    asked = parser.parse_args()
    if asked.what == "known":
        for name in KNOWN:
            at_known(name, asked.replications)
    else:
        at_laboratory(asked.score, asked.replications, asked.points, factors=asked.factors)


if __name__ == "__main__":
    main()
