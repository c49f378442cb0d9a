"""The appendix as PDF and as LaTeX: it can be made, it says what was scored, and the same facts give the same bytes."""

from __future__ import annotations

import builtins
import re
import shutil
import subprocess
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from appendix.engineer import FUNCTIONS, value_of
from appendix.test_formula_printers import HOSTILE

from analysis.cli.inputs import load
from analysis.languages.facts import Facts, Paragraph, Run, Section, Step, Steps, every_section, plain_text
from analysis.languages.latex import latex_code
from analysis.languages.pdf import pdf_files, pdf_of, typst_files
from analysis.languages.plain import pieces
from analysis.languages.tex import tex_files
from analysis.methods_appendix.assembly import facts_of
from analysis.methods_appendix.workings import Asked, work_out
from scoring.errors import ScoringError
from scoring.table.table import score_catalogue

FORM = """\
formula: beds
title: 'Beds & <others>, 100 % #1'
scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}
measures:
  noise_dba: {unit: dB, label: 'Noise $x$ \\end{document} #panic() 😀', repeatability: 1.2}
  sit_drop: {unit: mm, repeatability: 2.5}
ratings:
  quiet: {measure: noise_dba, curve: {smooth: {22: 10, 34: 7, 46: 1}}}
  edge: {measure: sit_drop, label: 'Edge "שקט" _a_ *b* [c]', curve: {points: {40: 10, 80: 6, 135: 1}}}
scores:
  upright: {weights: {edge: 4, quiet: 1}, limits: [{when: edge < 4, at_most: 6}]}
"""
READINGS = "product,noise_dba [dB],sit_drop [mm]\n" + "".join(
    f"A-{n:02d},{24.3 + 1.7 * n},{120.5 - 7.3 * n}\n" for n in range(9)
)


#: Longer than any line of a page, with what a number may look like.
LONG = (
    "("
    + " + ".join(f"0.{n}*9.4{n}2587" for n in range(10, 40))
    + ")/(1.5e-05 + 1e+02) - log10((10**(30.5/10) + 10**(-3.5/10))/2)"
)


@pytest.fixture(scope="module")
def scored(tmp_path_factory: pytest.TempPathFactory) -> tuple[Facts, list[str]]:
    """The facts of a small formula with hostile labels, and its scores as they are shown."""
    folder = tmp_path_factory.mktemp("beds")
    (folder / "beds.yaml").write_text(FORM, encoding="utf-8")
    (folder / "beds.csv").write_text(READINGS, encoding="utf-8")
    form, readings = load(folder / "beds.yaml", folder / "beds.csv", [])
    asked = Asked((), 0, 16, "", "steelyard appendix beds.yaml beds.csv --out DIR")
    facts = facts_of(work_out(score_catalogue(form, readings), None, None, asked))
    column = score_catalogue(form, readings).column("upright")
    assert len(column.shown) == 9
    said = Section(
        "hostile",
        (Run("Labels"),),
        tuple(Paragraph((Run(s), Run(s, "name"), Run(s, "code"))) for s in HOSTILE.values()),
    )
    sums = (Step((Run("Sum"),), LONG, f"{value_of(LONG):.7g}"), Step((Run("Hash"),), "1 [" + "0a1b2c3d" * 8 + "]", "1"))
    reckoned = Section("long", (Run("Long"),), (Steps("long", (Run("Long lines."),), sums),))
    return replace(facts, sections=(*facts.sections, said, reckoned)), [f"{value:.1f}" for value in column.shown]


def text_of(pdf: bytes) -> str:
    """All text of a PDF."""
    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed: pip install 'steelyard[test]'")
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf)).pages)


def test_the_pdf_carries_every_shown_score_and_is_accessible(scored: tuple[Facts, list[str]]) -> None:
    """Beside its product in one line; tagged, with a title and a language, on A4, without a date."""
    pytest.importorskip("typst", reason="the typst package is not installed: pip install 'steelyard[pdf]'")
    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed: pip install 'steelyard[test]'")
    facts, shown = scored
    pdf = pdf_files(facts)["appendix.pdf"]
    text = re.sub(r"\s+", " ", text_of(pdf))
    for product, score in enumerate(shown):
        assert re.search(rf"A-{product:02d} \d+=? {re.escape(score)}", text), (product, score)
    read = pypdf.PdfReader(BytesIO(pdf))
    root = read.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert "Beds & <others>, 100 % #1" in read.metadata.title
    assert "/CreationDate" not in read.metadata
    assert [round(float(side)) for side in read.pages[0].mediabox[2:]] == [595, 842]
    assert b"pdfuaid" in pdf or "pdfuaid" in str(root["/Metadata"].get_data())
    assert "[U+1F600]" in text


def test_the_same_facts_give_the_same_pdf(scored: tuple[Facts, list[str]]) -> None:
    """Byte for byte, from another folder each time."""
    pytest.importorskip("typst", reason="the typst package is not installed: pip install 'steelyard[pdf]'")
    files = typst_files(scored[0])
    assert files == typst_files(scored[0])
    assert pdf_of(files) == pdf_of(files)


def test_without_typst_the_fault_says_what_to_install(
    scored: tuple[Facts, list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line, no traceback."""
    real = builtins.__import__

    def without(name: str, *rest: object, **more: object) -> object:
        if name == "typst":
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(ScoringError, match=re.escape("pip install 'steelyard[pdf]'")):
        pdf_files(scored[0])


@pytest.mark.skipif(shutil.which("pdflatex") is None, reason="no TeX here: apt-get install texlive-latex-base")
def test_the_latex_compiles_and_carries_every_shown_score(scored: tuple[Facts, list[str]], tmp_path: Path) -> None:
    """Under pdflatex with its own packages and fonts; no character is missing."""
    facts, shown = scored
    for name, content in tex_files(facts).items():
        (tmp_path / name).write_bytes(content)
    command = ["pdflatex", "-interaction=nonstopmode", "-halt-on-error", "-no-shell-escape", "appendix.tex"]
    for _ in range(2):
        done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, errors="replace")
        log = (tmp_path / "appendix.log").read_text(errors="replace")
        assert done.returncode == 0, [line for line in log.splitlines() if line.startswith(("!", "l."))]
    assert "Missing character" not in log
    assert "undefined references" not in log
    assert max(overfull(log), default=0.0) <= 10.0
    text = re.sub(r"\s+", " ", text_of((tmp_path / "appendix.pdf").read_bytes()))
    for product, score in enumerate(shown):
        assert re.search(rf"A-{product:02d} \d+=? {re.escape(score)}", text), (product, score)


def overfull(log: str) -> list[float]:
    """By how many points lines are too wide, as TeX's log says."""
    return [float(points) for points in re.findall(r"Overfull \\hbox \(([\d.]+)pt too wide\)", log)]


def test_arithmetic_copied_from_the_pdf_can_be_keyed_in(scored: tuple[Facts, list[str]]) -> None:
    """No unseen letter stands in it, no number is cut by the end of a line, and what is copied comes to the result."""
    pytest.importorskip("typst", reason="the typst package is not installed: pip install 'steelyard[pdf]'")
    text = text_of(pdf_files(scored[0])["appendix.pdf"])
    assert not set(text) & set("\u200b\u00ad\ufeff")
    steps = [
        s for one in every_section(scored[0].sections) for b in one.blocks if isinstance(b, Steps) for s in b.lines
    ]
    assert len(steps) > 6
    cut = 0
    for step in steps:
        words = re.findall(r"\w+(?:[.]\d+)?(?:e[+-]\d+)?|\S", step.arithmetic.partition("[")[0])
        copied = re.search(r"\s*".join(map(re.escape, words)), text)
        assert copied is not None, step.arithmetic
        cut += "\n" in copied[0]
        assert "\n" not in copied[0] or not re.search(r"\n\s*[*/+),]", copied[0]), "a line goes on after its operator"
        joined = " ".join(copied[0].split())
        value = eval(joined, {"__builtins__": {}}, dict(FUNCTIONS))
        rounds = "rounded" in step.arithmetic
        assert value == pytest.approx(float(step.result), abs=0.05 if rounds else 2e-5, rel=0 if rounds else 2e-5), step
    assert cut >= 1, "no line was long enough to be cut"


def test_no_heading_stands_alone_at_the_foot_of_a_page(scored: tuple[Facts, list[str]]) -> None:
    """The last line above the page's number is no title; and the contents are on the first page, whole."""
    pytest.importorskip("typst", reason="the typst package is not installed: pip install 'steelyard[pdf]'")
    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed: pip install 'steelyard[test]'")
    facts = scored[0]
    pages = [page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf_files(facts)["appendix.pdf"])).pages]
    titles = {" ".join(plain_text(one.title).split()) for one in every_section(facts.sections)}
    for number, page in enumerate(pages, start=1):
        lines = [line.strip() for line in page.splitlines() if line.strip()]
        assert re.fullmatch(r"\d+ / \d+", lines[-1])
        assert re.sub(r"^[\d.]+ ", "", lines[-2]) not in titles, (number, lines[-2])
    assert all(" ".join(plain_text(one.title).split()) in " ".join(pages[0].split()) for one in facts.sections)


@pytest.mark.skipif(shutil.which("pdflatex") is None, reason="no TeX here: apt-get install texlive-latex-base")
def test_no_line_of_the_latex_runs_off_the_page(facts: Facts, tmp_path: Path) -> None:
    """Of the trial laboratory, whose labels are long and foreign: nothing is too wide by more than 10 points."""
    for name, content in tex_files(facts).items():
        (tmp_path / name).write_bytes(content)
    command = ["pdflatex", "-interaction=nonstopmode", "-halt-on-error", "-no-shell-escape", "appendix.tex"]
    for _ in range(2):
        assert subprocess.run(command, cwd=tmp_path, capture_output=True).returncode == 0
    log = (tmp_path / "appendix.log").read_text(errors="replace")
    assert max(overfull(log), default=0.0) <= 10.0
    assert overfull(r"Overfull \hbox (94.99121pt too wide) in paragraph") == [94.99121]


def test_code_may_break_where_it_hurts_least() -> None:
    """After an operator, a point or a bar, never in a number; a hash anywhere; and nothing of it is lost."""
    assert pieces("a.b_c 0.1*9.41 + 1e-05**2") == ("a.", "b_", "c ", "0.1*", "9.41 + ", "1e-05**", "2")
    assert pieces("0a1b2c3d" * 8) == ("0a1b2c3d",) * 8
    assert "".join(pieces(LONG)) == LONG
    assert latex_code("a.b_c") == r"a.\allowbreak{}b\_\allowbreak{}c"
    assert latex_code("1 + 2") == r"1~+ \allowbreak{}2"
