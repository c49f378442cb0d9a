"""How the sensitivity engine compares with what it could be made of. Run by hand, alone:

    python tests/speed/sensitivity.py

(a) Indices and intervals of every output of 200 products from sums by block, against SALib's `analyze` called for one output
after the other on the same samples, which it takes half of (it has no use for the second sample with a swap);
`tests/sensitivity_coverage.py` says what both err by for as many runs. (b) Scores and ranks of 500 products under 65,536
draws of weights, against the bare product of the weights with the ratings and an argsort, in the same pieces. (c) The memory
of a whole study of 500 products, at 2^10 and 2^16 base points, each in a process of its own. Runs alternate, so that a busy
spell of the machine falls on all; the best of them counts. All data is invented.

The whole command is timed from outside, as `steelyard sensitivity examples/laboratory/guest-bed.yaml examples/laboratory`:
25.3 s of a processor and 448 MiB before both samples were swapped and points drawn once, 13.0 s and 315 MiB since, one run
each in turn on a busy machine.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from SALib.analyze import sobol as salib_sobol

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.indices.design import Design, swaps_of
from analysis.indices.precision import Precision
from analysis.indices.sensitivity import sensitivity_study
from analysis.indices.sobol import BLOCKS, Indices, Sums, indices, near_mean
from analysis.study import Setting, Study
from analysis.study.reader import read_study
from analysis.trials.quantities import Quantities, quantities_of
from analysis.trials.trials import Trials, compile_trials
from scoring.catalogue import Catalogue, from_arrays
from scoring.numbers.ranks import rank_rows
from scoring.reader import read_sources
from scoring.table.table import ScoreTable, score_catalogue
from scoring.texts.source import Source

Array = NDArray[np.float64]
SEED, RUNS = 20, 3
#: (a): base points, SALib's resamples, and how many outputs it is timed on.
POINTS, RESAMPLES, TIMED = 1024, 100, 10
#: (b): draws, and how many at a time.
DRAWS, CHUNK = 1 << 16, 256
#: (c): base points of the small and the large study.
SMALL, LARGE = 1 << 10, 1 << 16


def catalogue_of(n_products: int, n_ratings: int) -> Catalogue:
    """Products with readings drawn from 5 to 95."""
    rng = np.random.default_rng(SEED)
    readings = {f"m{i}": rng.uniform(5, 95, n_products) for i in range(n_ratings)}
    return from_arrays([f"p{i}" for i in range(n_products)], readings)


def table_of(n_products: int, n_ratings: int) -> ScoreTable:
    """A weighted mean of ratings, each a line along a measure of its own."""
    numbers = range(n_ratings)
    measures = "\n".join(f"  m{i}: {{unit: '1'}}" for i in numbers)
    ratings = "\n".join(f"  r{i}: {{measure: m{i}, curve: {{line: {{worst: 2, best: 98}}}}}}" for i in numbers)
    weights = ", ".join(f"r{i}: {10 + i}" for i in numbers)
    text = (
        f"formula: speed\nscale: {{from: 1, to: 10}}\nmeasures:\n{measures}\nratings:\n{ratings}\n"
        f"scores:\n  total: {{blend: weighted mean, weights: {{{weights}}}}}\n"
    )
    return score_catalogue(read_sources([Source("speed.yaml", text)]), catalogue_of(n_products, n_ratings))


def study_of(table: ScoreTable, *vary: str) -> Study:
    """The study that varies what is listed."""
    text = "study: speed\nvary:\n" + "\n".join(f"  - {item}" for item in vary) + "\n"
    return read_study(text, "speed.yaml", table.form, table.catalogue)


def asked_of(study: Study, table: ScoreTable) -> Quantities:
    """All quantities of the one score."""
    return quantities_of(study.form, table.column("total"), table.catalogue.products, study.top, study.pairs)


def best_times(runs: dict[str, Callable[[], object]], times: int = RUNS) -> dict[str, float]:
    """The least seconds of each, over alternating runs."""
    best = dict.fromkeys(runs, float("inf"))
    for _ in range(times):
        for name, run in runs.items():
            start = time.perf_counter()
            run()
            best[name] = min(best[name], time.perf_counter() - start)
    return best


def outputs_of_design(design: Design, trials: Trials, asked: Quantities) -> list[Array]:
    """Outputs of both base samples, with every swap of the first, and of the second: each of shape (base points, outputs)."""
    one, other = next(design.pieces(0, design.points, design.points))
    draws = [one, other]
    draws += [design.mixed(*pair, swap) for pair in ((one, other), (other, one)) for swap in design.swaps]
    return [asked.of(trials.scores(design.study.setting(each))["total"]) for each in draws]


def ours(design: Design, outputs: list[Array]) -> Indices:
    """Indices of all outputs."""
    sums = Sums(near_mean(outputs[0][::BLOCKS]), len(design.swaps), design=design.sha256)
    a, b = sums.add_base(outputs[0], outputs[1], design=design.sha256)
    count = len(design.swaps)
    for number in range(count):
        sums.add_swap(number, outputs[2 + number], outputs[2 + count + number], a, b)
    return indices(sums, design=design.sha256)


def salibs(design: Design, outputs: list[Array], wanted: list[int]) -> tuple[Array, Array]:
    """First-order and total indices of some outputs by SALib, shape (swaps, outputs)."""
    names = [swap.name for swap in design.swaps]
    problem = {"num_vars": len(names), "names": names, "bounds": [[0.0, 1.0]] * len(names)}
    found = []
    for output in wanted:
        rows = np.stack([each[:, output] for each in (outputs[0], *outputs[2 : 2 + len(names)], outputs[1])], axis=1)
        found.append(
            salib_sobol.analyze(problem, rows.ravel(), calc_second_order=False, num_resamples=RESAMPLES, seed=1)
        )
    return np.stack([f["S1"] for f in found], axis=1), np.stack([f["ST"] for f in found], axis=1)


def compare_estimators() -> None:
    """(a)"""
    table = table_of(200, 6)
    ends = [f"{{address: ratings.r{i}.curve.line.best, uniform: [93, 100]}}" for i in range(6)]
    study = study_of(table, "{weights: total, plus_minus: 5%}", *ends)
    trials, asked = compile_trials(study, table.catalogue), asked_of(study, table)
    design = Design(study, swaps_of(study.factors, "factor"), POINTS // BLOCKS, SEED)
    outputs = outputs_of_design(design, trials, asked)
    found = ours(design, outputs)
    wanted = [int(i) for i in np.linspace(0, 399, TIMED) if found.reacts[int(i)]]
    first, total = salibs(design, outputs, wanted)
    apart = np.median(np.abs(np.stack([first - found.first[:, wanted], total - found.total[:, wanted]])))
    times = best_times({"ours": lambda: ours(design, outputs), "SALib": lambda: salibs(design, outputs, wanted)})
    count = outputs[0].shape[1]
    whole = times["SALib"] * count / len(wanted)
    print(
        f"(a) {len(design.swaps)} addresses, {POINTS} base points, {RESAMPLES} resamples, {count} outputs of 200 products"
    )
    print(f"    ours, all outputs                       {times['ours']:9.3f} s")
    print(
        f"    SALib, {len(wanted)} outputs, scaled to all         {whole:9.3f} s   {whole / times['ours']:6.0f} times ours"
    )
    print(f"    median difference of {2 * len(design.swaps) * len(wanted)} indices            {apart:9.4f}")


def pieces(weights: Array) -> Iterator[Array]:
    """Draws of weights, some at a time."""
    for top in range(0, len(weights), CHUNK):
        yield weights[top : top + CHUNK]


def compare_ranking() -> None:
    """(b)"""
    table = table_of(500, 5)
    study = study_of(table, "{weights: total, plus_minus: 10%}")
    trials = compile_trials(study, table.catalogue)
    move = study.moves[0]
    drawn = Setting(DRAWS)
    move.apply(np.random.default_rng(SEED).random((DRAWS, study.n_columns)), {}, drawn)
    weights = np.stack([drawn.numbers[factor.name] for factor in move.factors], axis=1)
    shares = weights / weights.sum(axis=1, keepdims=True)
    ratings = np.stack([table.column(f"r{i}").value for i in range(5)])

    def scored(rows: Array) -> Array:
        setting = Setting(len(rows), {factor.name: rows[:, i] for i, factor in enumerate(move.factors)})
        return trials.scores(setting)["total"]

    def by_steelyard() -> None:
        for rows in pieces(weights):
            rank_rows(scored(rows))

    def bare() -> None:
        for rows in pieces(shares):
            np.argsort(-(rows @ ratings), axis=1)

    def scores_alone() -> None:
        for rows in pieces(weights):
            scored(rows)

    times = best_times({"ours": by_steelyard, "bare": bare, "scores": scores_alone}, 2 * RUNS)
    apart = np.abs(scored(weights[:CHUNK]) - shares[:CHUNK] @ ratings).max()
    print(f"(b) {DRAWS} draws of 5 weights, 500 products, {CHUNK} draws at a time")
    print(f"    bare product and argsort                {times['bare']:9.3f} s")
    print(
        f"    ours: scores and ranks with ties        {times['ours']:9.3f} s   {times['ours'] / times['bare']:6.2f} times bare"
    )
    print(f"    of it the scores                        {times['scores']:9.3f} s")
    print(f"    greatest difference of scores           {apart:9.1e}")


def whole_study(budget: int) -> None:
    """(c), in a process of its own: prints the seconds and the peak of its memory in MB."""
    no_end = Precision(1e-9, asked=True)  # no interval is as narrow: the study goes on to the end of the budget
    table = table_of(500, 5)
    study = study_of(table, "{weights: total, plus_minus: 10%}")
    start = time.perf_counter()
    (found,) = sensitivity_study(study, table, budget=budget, precision=no_end, seed=SEED)
    seconds = time.perf_counter() - start
    assert found.trail[-1].points == budget
    unit = 1 << 20 if sys.platform == "darwin" else 1 << 10
    print(seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit, len(found.swaps))


def compare_memory() -> None:
    """(c)"""
    peaks = []
    print("(c) a whole study of 500 products and 5 weights to the end of its budget")
    for budget in (SMALL, LARGE):
        command = [sys.executable, __file__, str(budget)]
        done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2])
        seconds, peak, swaps = map(float, done.stdout.split())
        peaks.append(peak)
        runs = int((2 * swaps + 2) * budget)
        print(f"    {budget:6} base points, {runs:7} runs        {seconds:9.1f} s   {peak:6.0f} MB at most")
    print(f"    growth                                  {peaks[1] - peaks[0]:9.0f} MB")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        whole_study(int(sys.argv[1]))
    else:
        compare_estimators()
        compare_ranking()
        compare_memory()
