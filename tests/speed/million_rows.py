"""How the compiled kernel compares with numpy written by hand: ten measures, a million rows. Run by hand, alone:

    python tests/speed/million_rows.py

Both sides work out the same form: ten ratings (points, line and log curves of two to six anchors), their weighted mean, one
cap. The yardstick is the faster of two versions by hand: whole columns, or pieces that fit the cache. Runs alternate, so
that a busy spell of the machine falls on all; the best of them counts.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from scoring.catalogue import State
from scoring.program.kernel import kernel_of
from scoring.program.program import compile_form
from scoring.reader import read_sources
from scoring.table.evaluate import Inputs, evaluate, kernel_for
from scoring.texts.source import Source

Array = NDArray[np.float64]
ROWS, RUNS, CHUNK, SEED = 1_000_000, 9, 1 << 15, 20
NAMES = tuple(f"m{index}" for index in range(10))
WEIGHTS = (0.16, 0.14, 0.13, 0.12, 0.11, 0.1, 0.08, 0.07, 0.05, 0.04)
CURVES = (
    "points: {2: 10, 20: 7, 45: 4, 90: 1}",
    "line: {worst: 5, best: 65}",
    "log: {worst: 80, best: 4}",
    "points: {10: 1, 50: 6, 95: 10}",
    "line: {worst: 90, best: 15}",
    "points: {1: 1, 15: 3, 30: 8, 55: 10, 70: 6, 99: 2}",
    "log: {worst: 3, best: 60}",
    "points: {5: 10, 25: 8.5, 40: 5, 60: 3, 80: 1}",
    "line: {worst: 0, best: 100}",
    "points: {3: 2, 33: 9, 66: 9.5, 97: 4}",
)
LIMIT, CAP = 3.0, 5.0


def form_text() -> str:
    """The form as YAML."""
    measures = "\n".join(f"  {name}: {{unit: '1'}}" for name in NAMES)
    ratings = "\n".join(
        f"  r{i}: {{measure: {name}, curve: {{{curve}}}}}"
        for i, (name, curve) in enumerate(zip(NAMES, CURVES, strict=True))
    )
    weights = ", ".join(f"r{i}: {weight}" for i, weight in enumerate(WEIGHTS))
    limits = f"[{{when: r0 < {LIMIT}, at_most: {CAP}}}]"
    return (
        f"formula: ten\nscale: {{from: 1, to: 10}}\nmeasures:\n{measures}\nratings:\n{ratings}\n"
        f"scores:\n  total: {{weights: {{{weights}}}, limits: {limits}}}\n"
    )


def by_hand(columns: Sequence[Array], ratings: Sequence[Array], total: Array) -> None:
    """The same form in tuned numpy: in place, constants worked in, one pass a rating; writes into `ratings` and `total`."""

    def points(x: Array, xs: Sequence[float], ys: Sequence[float], out: Array) -> None:
        out[:] = np.interp(x, xs, ys)

    def line(x: Array, worst: float, best: float, out: Array) -> None:
        slope = 9.0 / (best - worst)
        np.multiply(x, slope, out=out)
        out += 1.0 - worst * slope
        np.clip(out, 1.0, 10.0, out=out)

    def log(x: Array, worst: float, best: float, out: Array) -> None:
        slope = 9.0 / np.log(best / worst)
        np.log(x, out=out)
        out *= slope
        out += 1.0 - np.log(worst) * slope
        np.clip(out, 1.0, 10.0, out=out)

    points(columns[0], (2, 20, 45, 90), (10, 7, 4, 1), ratings[0])
    line(columns[1], 5, 65, ratings[1])
    log(columns[2], 80, 4, ratings[2])
    points(columns[3], (10, 50, 95), (1, 6, 10), ratings[3])
    line(columns[4], 90, 15, ratings[4])
    points(columns[5], (1, 15, 30, 55, 70, 99), (1, 3, 8, 10, 6, 2), ratings[5])
    log(columns[6], 3, 60, ratings[6])
    points(columns[7], (5, 25, 40, 60, 80), (10, 8.5, 5, 3, 1), ratings[7])
    line(columns[8], 0, 100, ratings[8])
    points(columns[9], (3, 33, 66, 97), (2, 9, 9.5, 4), ratings[9])
    np.multiply(ratings[0], WEIGHTS[0], out=total)
    scratch = np.empty_like(total)
    for rating, weight in zip(ratings[1:], WEIGHTS[1:], strict=True):
        np.multiply(rating, weight, out=scratch)
        total += scratch
    np.minimum(total, CAP, out=total, where=ratings[0] < LIMIT)


def in_pieces(columns: Sequence[Array], ratings: Sequence[Array] | None) -> Array:
    """`by_hand` over pieces that fit the cache; the ratings are kept where arrays for them are given."""
    total = np.empty(ROWS)
    spare = [np.empty(CHUNK) for _ in NAMES]
    for start in range(0, ROWS, CHUNK):
        part = slice(start, min(start + CHUNK, ROWS))
        kept = [r[part] for r in ratings] if ratings is not None else [s[: part.stop - start] for s in spare]
        by_hand([column[part] for column in columns], kept, total[part])
    return total


def whole(columns: Sequence[Array], ratings: Sequence[Array] | None) -> Array:
    """`by_hand` over whole columns."""
    total = np.empty(ROWS)
    by_hand(columns, ratings if ratings is not None else [np.empty(ROWS) for _ in NAMES], total)
    return total


def best_times(runs: dict[str, Callable[[], object]]) -> dict[str, float]:
    """The least seconds of each, over alternating runs."""
    best = dict.fromkeys(runs, float("inf"))
    for _ in range(RUNS):
        for name, run in runs.items():
            start = time.perf_counter()
            run()
            best[name] = min(best[name], time.perf_counter() - start)
    return best


def compare(title: str, outputs: Sequence[str], columns: Sequence[Array]) -> None:
    """Time the kernel and `evaluate` against numpy by hand, for the given outputs."""
    program = compile_form(read_sources([Source("ten.yaml", form_text())]))
    inputs = Inputs(
        products=tuple(map(str, range(ROWS))),
        values={name: column[None, :] for name, column in zip(NAMES, columns, strict=True)},
        states={name: np.full(ROWS, State.VALUE, dtype=np.uint8) for name in NAMES},
        words={},
    )
    kernel = kernel_of(program, outputs, gaps=())
    symbols = {symbol: inputs.values[name] for name, symbol in program.measures.items()}
    full = len(outputs) > 1

    def ratings() -> list[Array] | None:
        return [np.empty(ROWS) for _ in NAMES] if full else None

    times = best_times(
        {
            "whole": lambda: whole(columns, ratings()),
            "pieces": lambda: in_pieces(columns, ratings()),
            "kernel": lambda: kernel(symbols, (1, ROWS)),
            "evaluate": lambda: evaluate(kernel_for(program, inputs, outputs), inputs),
            "evaluate, compiled before": lambda: evaluate(kernel, inputs),
        }
    )
    hand = min(times["whole"], times["pieces"])
    print(f"{title}, {ROWS} rows, best of {RUNS}")
    for name, seconds in times.items():
        print(f"  {name:26} {seconds * 1000:8.1f} ms   {seconds / hand:5.2f} times numpy by hand")
    apart = np.abs(kernel(symbols, (1, ROWS))["total"][0] - in_pieces(columns, None)).max()
    print(f"  greatest difference {apart:.1e}")


def main() -> None:
    """Both comparisons: the score alone, and with the ten ratings."""
    draws = np.random.default_rng(SEED)
    columns = [draws.uniform(0.5, 110.0, ROWS) for _ in NAMES]
    compare("the score alone", ["total"], columns)
    compare("ten ratings and the score", [*(f"r{i}" for i in range(10)), "total"], columns)


if __name__ == "__main__":
    main()
