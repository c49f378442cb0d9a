"""The example of weights from pairwise comparisons: by hand, by what always holds, and as a whole with its faults."""

from __future__ import annotations

import shlex
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from extent import examples, only_long
from hypothesis import given, settings
from hypothesis import strategies as st
from pairwise_example import EXAMPLE, WEIGHTS
from typer.testing import CliRunner

from analysis.cli.main import app
from scoring.addresses.addresses import set_addresses
from scoring.catalogue import read_catalogue
from scoring.reader import read_form
from scoring.table.table import score_catalogue

ROOT = Path(__file__).resolve().parents[1]
LABORATORY = ROOT / "examples" / "laboratory"
FORMULA = LABORATORY / "guest-bed.yaml"
STRENGTHS = [*range(1, 10), *(1 / k for k in range(2, 10))]

positive = st.lists(st.floats(0.05, 5), min_size=2, max_size=9)


def reciprocal(upper: list[float], n_parts: int) -> np.ndarray:
    """The reciprocal matrix with this upper triangle, row by row."""
    matrix = np.eye(n_parts)
    for (i, j), strength in zip(zip(*np.triu_indices(n_parts, 1), strict=True), upper, strict=True):
        matrix[i, j], matrix[j, i] = strength, 1 / strength
    return matrix


@st.composite
def judged(draw: st.DrawFn) -> np.ndarray:
    """A reciprocal matrix of 2 to 7 parts with strengths of the scale."""
    n_parts = draw(st.integers(2, 7))
    n_pairs = n_parts * (n_parts - 1) // 2
    return reciprocal(draw(st.lists(st.sampled_from(STRENGTHS), min_size=n_pairs, max_size=n_pairs)), n_parts)


def test_a_circle_of_three_by_hand() -> None:
    """a over b 2, b over c 2, a over c 1: row products 2, 1, 1/2, so weights as their cube roots; t = (1/4)^(1/3).

    For three parts the eigenvector is the geometric mean of each row and lambda_max = 1 + t + 1/t, t^3 = a13/(a12 a23):
    put w = (r, 1, 1/r), r = 2^(1/3), into each row of A w to see it.
    """
    matrix = reciprocal([2, 1, 2], 3)
    root = 2 ** (1 / 3)
    assert WEIGHTS.priorities(matrix) == pytest.approx(np.array([root, 1, 1 / root]) / (root + 1 + 1 / root), abs=1e-12)
    t = 4 ** (-1 / 3)
    assert WEIGHTS.principal_eigenvalue(matrix) == pytest.approx(1 + t + 1 / t, abs=1e-12)
    assert WEIGHTS.consistency_index(matrix) == pytest.approx((t + 1 / t - 2) / 2, abs=1e-12)
    assert WEIGHTS.consistency_ratio(matrix) == pytest.approx((t + 1 / t - 2) / 2 / 0.58, abs=1e-12)


def test_column_means_by_hand() -> None:
    """Of [[1, 3], [1/3, 1]] the column sums are 4/3 and 4; both columns are 3/4, 1/4; lambda is 1 + 1."""
    weights, eigenvalue = WEIGHTS.column_mean_approximation(np.array([[1, 3], [1 / 3, 1]]))
    assert weights == pytest.approx([0.75, 0.25])
    assert eigenvalue == pytest.approx(2)


@settings(max_examples=examples(40), deadline=None)
@given(positive)
def test_a_consistent_matrix_gives_back_its_weights(raw: list[float]) -> None:
    """Of w_i/w_j: the weights w by both ways, lambda_max = n, CR = 0."""
    weights = np.array(raw) / sum(raw)
    matrix = weights[:, None] / weights
    by_columns, eigenvalue = WEIGHTS.column_mean_approximation(matrix)
    assert WEIGHTS.priorities(matrix) == pytest.approx(weights, abs=1e-9)
    assert by_columns == pytest.approx(weights, abs=1e-9)
    assert WEIGHTS.principal_eigenvalue(matrix) == pytest.approx(len(raw), abs=1e-9)
    assert eigenvalue == pytest.approx(len(raw), abs=1e-9)
    assert WEIGHTS.consistency_ratio(matrix) == pytest.approx(0, abs=1e-9)


@settings(max_examples=examples(40), deadline=None)
@given(judged(), st.randoms(use_true_random=False))
def test_another_order_of_the_parts_gives_the_same_weights_in_that_order(matrix: np.ndarray, random: object) -> None:
    """Permuting rows and columns together permutes the weights, and leaves lambda_max."""
    order = list(range(len(matrix)))
    random.shuffle(order)  # type: ignore[attr-defined]
    permuted = matrix[np.ix_(order, order)]
    assert WEIGHTS.priorities(permuted) == pytest.approx(WEIGHTS.priorities(matrix)[order], abs=1e-9)
    assert WEIGHTS.principal_eigenvalue(permuted) == pytest.approx(WEIGHTS.principal_eigenvalue(matrix), abs=1e-9)


@settings(max_examples=examples(40), deadline=None)
@given(judged())
def test_the_weights_are_the_eigenvector_and_lambda_is_at_least_n(matrix: np.ndarray) -> None:
    """A w = lambda w with w above 0 and sum 1: by Perron and Frobenius there is only one such pair; lambda >= n."""
    weights, eigenvalue = WEIGHTS.priorities(matrix), WEIGHTS.principal_eigenvalue(matrix)
    assert matrix @ weights == pytest.approx(eigenvalue * weights, abs=1e-9)
    assert weights.min() > 0
    assert weights.sum() == pytest.approx(1)
    assert eigenvalue >= len(matrix) - 1e-9


def test_ten_parts_have_no_random_index() -> None:
    """Sources differ there, so nothing is said."""
    with pytest.raises(ValueError, match="10 parts; the table of random indices has 2 to 9"):
        WEIGHTS.consistency_ratio(np.ones((10, 10)))


def test_a_part_more_can_turn_the_order_of_two_others() -> None:
    """README's criticism: a over b 2, but c over b 1/5 and c over a 5 puts b before a."""
    assert np.argmax(WEIGHTS.priorities(reciprocal([2], 2))) == 0
    three = WEIGHTS.priorities(reciprocal([2, 1 / 5, 5], 3))
    assert three[1] > three[0]


def run_example(
    comparisons: Path, formula: str = "examples/laboratory/guest-bed.yaml"
) -> subprocess.CompletedProcess[str]:
    """The program as README.md runs it, from the repository's folder."""
    arguments = [formula, "examples/laboratory", str(comparisons)]
    program = [sys.executable, "examples/pairwise-weights/weights.py", *arguments]
    return subprocess.run(program, capture_output=True, text=True, cwd=ROOT, check=False)


def test_the_example_prints_what_is_kept() -> None:
    """Byte for byte `expected.txt`, and nothing on standard error."""
    done = run_example(Path("examples/pairwise-weights/comparisons.yaml"))
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == (EXAMPLE / "expected.txt").read_text(encoding="utf-8")


def printed_command() -> list[str]:
    """The `steelyard` command that the example prints, as its arguments."""
    text = (EXAMPLE / "expected.txt").read_text(encoding="utf-8")
    words = shlex.split(text[text.index("steelyard score") :].replace("\\\n", " "))
    assert words[0] == "steelyard"
    return words[1:]


def test_the_printed_command_runs_and_the_printed_line_is_a_weights_line(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The command scores with the weights set; the line, pasted into the formula, gives the same table."""
    monkeypatch.chdir(ROOT)
    text = (EXAMPLE / "expected.txt").read_text(encoding="utf-8")
    line = next(line.strip() for line in text.splitlines() if line.strip().startswith("weights: {"))
    stated = "weights: {stillness: 0.26, quiet: 0.2, edge: 0.18, cooling: 0.14, bounce: 0.12, pressure: 0.1}"
    formula = FORMULA.read_text(encoding="utf-8")
    assert formula.count(stated) == 1
    pasted = tmp_path / "guest-bed.yaml"
    pasted.write_text(formula.replace(stated, line), encoding="utf-8")
    tried = CliRunner().invoke(app, printed_command())
    kept = CliRunner().invoke(app, ["score", str(pasted), "examples/laboratory", "--score", "two_abed"])
    assert (tried.exit_code, kept.exit_code) == (0, 0)
    assert tried.stdout.splitlines()[1:] == kept.stdout.splitlines()[1:]
    assert "QB-029" in tried.stdout


def readmes_commands() -> list[list[str]]:
    """Each line that starts with `steelyard`."""
    text = (EXAMPLE / "README.md").read_text(encoding="utf-8").replace("\\\n", " ")
    return [shlex.split(line)[1:] for line in text.splitlines() if line.strip().startswith("steelyard ")]


#: What the README quotes of what a command says.
QUOTED = {
    "compare": ["39 of 53 products published in both change place", "the first place stays with QB-029"],
    "stability": ["moves 2.5 places on average", "QB-029, published first, is first in 74 %"],
}


def test_the_readmes_commands_are_those_that_are_run() -> None:
    """Four, in this order."""
    assert [words[0] for words in readmes_commands()] == ["compare", "stability", "sensitivity", "weights"]


@pytest.mark.parametrize(
    "words",
    [pytest.param(words, id=words[0], marks=[only_long] * (words[0] != "weights")) for words in readmes_commands()],
)
def test_every_command_of_the_readme_runs(words: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Exit code 0, and what the README quotes; in a long run also what draws by the thousand."""
    monkeypatch.chdir(ROOT)
    done = CliRunner().invoke(app, words)
    assert (done.exit_code, done.stderr) == (0, ""), words
    for figure in QUOTED.get(words[0], ()):
        assert figure in done.stdout


def test_what_the_readme_quotes_of_the_comparison_is_so() -> None:
    """By scoring both editions, with the weights that all of its commands set."""
    settings = [[word for word in words if word.startswith("scores.")] for words in readmes_commands()]
    assert settings == [settings[0]] * 4
    form = read_form(FORMULA)
    beds = read_catalogue(LABORATORY, form)
    old, new = (score_catalogue(one, beds).column("two_abed") for one in (form, set_addresses(form, settings[0])))
    both = ~np.isnan(old.rank) & ~np.isnan(new.rank)
    moved = int((old.rank[both] != new.rank[both]).sum())
    first = [beds.products[int(np.nanargmin(one.rank))] for one in (old, new)]
    assert QUOTED["compare"] == [
        f"{moved} of {both.sum()} products published in both change place",
        f"the first place stays with {first[0]}",
    ]
    assert first[0] == first[1]


HEAD = "formula: guest-bed\nscore: steady_rise\n"


def judgements(**changed: str) -> str:
    """All ten pairs of steady_rise's parts at 1, but for what is changed; an empty strength leaves the pair out."""
    parts = ["edge", "turning", "firm_fit", "bounce", "pressure"]
    pairs = {f"{a}_{b}": f"{a} over {b}" for i, a in enumerate(parts) for b in parts[i + 1 :]}
    said = {key: changed.get(key, "1") for key in pairs}
    return HEAD + "judgements:\n" + "".join(f"  {pairs[key]}: {said[key]}\n" for key in pairs if said[key])


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        (judgements(edge_turning="10"), ["4:22: 10 for `edge over turning`; expected a number from 1/9 to 9."]),
        (judgements(edge_turning="0"), ["4:22: 0 for `edge over turning`; expected a number from 1/9 to 9."]),
        (judgements(edge_turning="0.1"), ["4:22: 0.1 for `edge over turning`; expected a number from 1/9 to 9."]),
        (
            judgements(edge_turning="1/0", edge_bounce="strong"),
            [
                "4:22: `1/0` for `edge over turning`; expected a number from 1/9 to 9. Write it as 3, 2.5 or 1/3.",
                "6:21: `strong` for `edge over bounce`; expected a number from 1/9 to 9. Write it as 3, 2.5 or 1/3.",
            ],
        ),
        (judgements(edge_turning=""), ["4:3: no comparison of `edge` and `turning`; expected `edge over turning: ...`."]),
        (
            judgements() + "  turning over edge: 1\n",
            ["14:3: `turning over edge`, a pair compared before (in line 4); expected each pair once. Drop one of the two; the reciprocal is understood."],
        ),
        (judgements() + "  edge over turning: 2\n", ["14:3: the key `edge over turning` again (first in line 4); expected each key once. Drop one of the two."]),
        (judgements() + "  edge over quite: 2\n", ["14:3: `quite`; expected a part of the score. Known: edge, turning, firm_fit, bounce, pressure."]),
        (judgements() + "  edge over edge: 1\n", ["14:3: `edge over edge`; expected two different parts."]),
        (judgements() + "  edge: 1\n", ["14:3: `edge`; expected two parts, as `A over B`."]),
        (HEAD + "judgements: 3\n", ["3:13: `3`; expected judgements as `A over B: 3`, one a line."]),
        (HEAD, ["1:1: no `judgements` in the comparisons; expected `judgements: ...`."]),
        (judgements().replace("steady_rise", "steady_rize"), ["2:8: `steady_rize`; expected a score of the formula. Did you mean `steady_rise`?"]),
        (judgements().replace("guest-bed", "other"), ["1:10: comparisons for `other`; expected the formula they are run with, `guest-bed`."]),
        ("", ["1:1: an empty file; expected comparisons. Start with `formula: NAME`."]),
        ("- 1\n", ["1:1: a list; expected comparisons as a mapping of keys."]),
    ],
)  # fmt: skip
def test_each_fault_is_one_line_with_its_place(
    text: str, faults: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2, nothing on standard output, every fault with file, line and column."""
    file = tmp_path / "comparisons.yaml"
    file.write_text(text, encoding="utf-8")
    assert WEIGHTS.main([str(FORMULA), str(LABORATORY), str(file)]) == 2
    out, err = capsys.readouterr()
    assert (out, err.splitlines()) == ("", [f"{file}:{fault}" for fault in faults])


def test_a_missing_file_a_wrong_formula_and_bad_bytes_are_faults(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2 and one line, no traceback, also as a program."""
    bad = tmp_path / "bad.yaml"
    bad.write_bytes(b"\xff\xfe")
    for formula, file, said in [
        (FORMULA, tmp_path / "none.yaml", "No such file or directory; expected a file of comparisons."),
        (FORMULA, bad, "not UTF-8 text; expected a file of comparisons."),
        ("examples/none.yaml", bad, "No such file or directory; expected a formula file that can be read."),
    ]:
        assert WEIGHTS.main([str(formula), str(LABORATORY), str(file)]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert err.endswith(f"{said}\n")
        assert err.count("\n") == 1
    done = run_example(bad)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert done.stderr.endswith("not UTF-8 text; expected a file of comparisons.\n")


def test_a_score_without_weights_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An expression has no parts to weigh."""
    formula = tmp_path / "guest-bed.yaml"
    old = FORMULA.read_text(encoding="utf-8")
    formula.write_text(old.replace("scores:\n", "scores:\n  odd: {value: edge}\n", 1), encoding="utf-8")
    file = tmp_path / "comparisons.yaml"
    file.write_text("formula: guest-bed\nscore: odd\njudgements: {edge over quiet: 1}\n", encoding="utf-8")
    assert WEIGHTS.main([str(formula), str(LABORATORY), str(file)]) == 2
    assert capsys.readouterr().err == f"{file}:2:8: `odd`, which has 0 weighted parts; expected a score of 2 to 9.\n"


def report_of(text: str, tmp_path: Path) -> str:
    """What is printed of these comparisons."""
    file = tmp_path / "comparisons.yaml"
    file.write_text(text, encoding="utf-8")
    return "\n".join(WEIGHTS.report(WEIGHTS.read_comparisons(file, read_form(FORMULA)), "F", "C"))


def test_agreeing_and_contradictory_comparisons_are_told_apart(tmp_path: Path) -> None:
    """All alike agree; one reversed by 9 against the rest is named, and CR is above 0.1."""
    assert "The comparisons agree with one another." in report_of(judgements(), tmp_path)
    clash = judgements(edge_turning="3", edge_firm_fit="5", turning_firm_fit="1/9")
    assert "CR is above the customary 0.1: ask again before using these weights." in report_of(clash, tmp_path)
    assert "`turning over firm_fit: 1/9` disagrees most" in report_of(clash, tmp_path)


def test_the_reverse_order_of_a_pair_says_the_same_with_the_reciprocal(tmp_path: Path) -> None:
    """`turning over edge: 1/3` for `edge over turning: 3`: every figure of the weights and of consistency is the same."""
    one = judgements(edge_turning="3")
    other = one.replace("edge over turning: 3", "turning over edge: 1/3")
    assert one != other
    first, second = report_of(one, tmp_path).splitlines(), report_of(other, tmp_path).splitlines()
    differing = [(a, b) for a, b in zip(first, second, strict=True) if a != b]
    (only,) = differing  # the sentence on the worst fit, which quotes the judgement as written
    assert [line.split("`")[1] for line in only] == ["edge over turning: 3", "turning over edge: 1/3"]


def test_two_parts_cannot_disagree(tmp_path: Path) -> None:
    """With a single comparison CR is 0 and the report says that it says nothing."""
    file = tmp_path / "comparisons.yaml"
    file.write_text(judgements(edge_turning="3"), encoding="utf-8")
    whole = WEIGHTS.read_comparisons(file, read_form(FORMULA))
    two = replace(whole, score=replace(whole.score, parts=whole.score.parts[:2]), judgements=whole.judgements[:1])
    lines = list(WEIGHTS.report(two, "F", "C"))
    assert two.judgements[0].strength == Fraction(3)
    assert any(line.startswith("edge ") and line.split()[1] == "0.750" for line in lines)
    assert "One comparison cannot disagree with itself: with two parts CR says nothing." in lines
