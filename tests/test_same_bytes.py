"""The same inputs and seed give the same bytes, however many threads the libraries below take and however sets are ordered."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from extent import is_long
from from_readme import write_beds
from laboratory_runs import write_few_beds

from scoring.numbers.ordered_sums import correlation_of, covariance_of, matrix_product

ROOT = Path(__file__).parents[1]
LABORATORY = ROOT / "examples" / "laboratory"
FORMULA = str(LABORATORY / "guest-bed.yaml")
BEDS = [FORMULA, str(LABORATORY)]
HEAVIER = ["--set", "scores.two_abed.weights.edge=5"]
#: What is run, by the name of the file or folder that it writes: every command that prints figures.
WHOLE = {
    "check.json": ["check", *BEDS, "--json"],
    "repeatability.json": ["check", *BEDS, "--repeatability", "--json"],
    "score.json": ["score", *BEDS, "--json"],
    "explain.json": ["explain", *BEDS, "QB-029", "--json"],
    "weights.json": ["weights", *BEDS, "--json"],
    "sensitivity.csv": ["sensitivity", *BEDS, "--draws", "128", "--second-order", "--out", "sensitivity.csv"],
    "shapley.json": ["sensitivity", *BEDS, "--draws", "64", "--shapley", "--score", "two_abed", "--json"],
    "stability.json": ["stability", *BEDS, "--draws", "100", "--json"],
    "compare.json": ["compare", FORMULA, *BEDS, *HEAVIER, "--score", "two_abed", "--json"],
    "flip.json": ["flip", *BEDS, "QB-029", "QB-039", "--score", "two_abed", "--json"],
    "reread.json": ["reread", *BEDS, "--score", "two_abed", "--settle", "top", "--json"],
    "record.json": ["record", *BEDS, "--out", "record.json", "--date", "2026-03-01"],
    "page.html": ["explore", *BEDS, "--out", "page.html"],
    "appendix": ["appendix", *BEDS, "--draws", "256", "--date", "2026-03-01", "--out", "appendix"],
}
SMALL = ["beds.yaml", "beds.csv"]
ONE = ["--score", "cool_night"]
SIXTEEN = [FORMULA, "few"]
#: The same commands for a change to wait for: one score of the laboratory's sixty beds, or of sixteen of them, where sums are
#: long, else the README's few beds.
QUICK = WHOLE | {
    "check.json": ["check", *SMALL, "--json"],
    "sensitivity.csv": [*WHOLE["sensitivity.csv"], *ONE],
    "shapley.json": ["sensitivity", *SMALL, "--draws", "64", "--shapley", "--json"],
    "weights.json": [*WHOLE["weights.json"], *ONE],
    "stability.json": ["stability", *SIXTEEN, "--draws", "100", "--json", *ONE],
    "compare.json": ["compare", "beds.yaml", *SMALL, "--set", "scores.reading_upright.weights.edge=2", "--json"],
    "flip.json": ["flip", *SMALL, "A-01", "A-02", "--json"],
    "reread.json": ["reread", *SMALL, "--settle", "A-01:A-02", "--json"],
    "page.html": ["explore", *SMALL, "--out", "page.html"],
    "appendix": ["appendix", *SMALL, "--draws", "256", "--date", "2026-03-01", "--out", "appendix"],
}
PROGRAM = """
import contextlib, os, sys
from analysis.cli.main import app
for name, command in {commands!r}.items():
    with open(name + ".printed", "w", encoding="utf-8") as printed, contextlib.redirect_stdout(printed):
        app(command, standalone_mode=False)
"""
#: What hands a sum to the linear algebra below; `@` is the operator `MatMult`.
HANDED_ON = {"dot", "matmul", "tensordot", "inner", "vdot", "cov", "corrcoef", "multi_dot", "multivariate_normal"}


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, bytes]]:
    """What every command wrote with one thread, and with two and another order of its sets: the bytes by the file's name."""
    commands = WHOLE if is_long() else QUICK
    found = {}
    for threads in ("1", "2"):
        folder = tmp_path_factory.mktemp(f"threads{threads}")
        write_beds(folder)
        write_few_beds(folder / "few")
        names = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
        environment = {
            **os.environ,
            **dict.fromkeys(names, threads),
            "PYTHONPATH": str(ROOT),
            "PYTHONHASHSEED": threads,
        }
        program = [sys.executable, "-W", "ignore", "-c", PROGRAM.format(commands=commands)]
        done = subprocess.run(program, cwd=folder, env=environment, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        found[threads] = {
            str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()
        }
    return found


@pytest.mark.parametrize("name", WHOLE)
def test_one_thread_and_two_give_the_same_bytes(written: dict[str, dict[str, bytes]], name: str) -> None:
    """Every file that a command writes, and what it prints."""
    one, two = ({file: held for file, held in written[threads].items() if file.startswith(name)} for threads in "12")
    assert sum(len(held) for held in one.values()) > 0
    assert [file for file in one | two if one.get(file) != two.get(file)] == []


def test_no_sum_is_handed_to_a_library_that_orders_it_by_its_threads() -> None:
    """Matrix products stand in `scoring.numbers.ordered_sums` alone, and there it is the sparse ones that have an operator."""
    found = []
    paths = [path for room in ("scoring", "analysis") for path in (ROOT / room).rglob("*.py")]
    for path in sorted(path for path in paths if path.name != "ordered_sums.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            operator = isinstance(node, ast.BinOp) and isinstance(node.op, ast.MatMult)
            called = node.func.attr if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) else ""
            if operator or called in HANDED_ON:
                found.append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert found == []


def test_a_product_of_matrices_is_that_of_numpy_to_its_last_digits() -> None:
    """Another order of summing moves the last digits alone."""
    rng = np.random.default_rng(3)
    one, other = rng.standard_normal((40, 7, 30)), rng.standard_normal((30, 9))
    np.testing.assert_allclose(matrix_product(one, other), one @ other, rtol=0, atol=1e-12)
    np.testing.assert_allclose(matrix_product(one, other[:, 0]), one @ other[:, 0], rtol=0, atol=1e-12)
    np.testing.assert_allclose(covariance_of(one[:, :, 0]), np.cov(one[:, :, 0].T), rtol=0, atol=1e-12)
    both = one[0, 0], one[1, 1]
    assert correlation_of(*both) == pytest.approx(np.corrcoef(*both)[0, 1], abs=1e-14)
