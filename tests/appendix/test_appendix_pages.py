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
from appendix.test_formula_printers import HOSTILE

from analysis.appendix.assembly import facts_of
from analysis.appendix.facts import Facts, Paragraph, Run, Section
from analysis.appendix.pdf import pdf_files, pdf_of, typst_files
from analysis.appendix.tex import code, tex_files
from analysis.appendix.workings import Asked, work_out
from analysis.cli.inputs import load
from scoring.errors import ScoringError
from scoring.table import score_catalogue

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


@pytest.fixture(scope="module")
def scored(tmp_path_factory: pytest.TempPathFactory) -> tuple[Facts, list[str]]:
    """The facts of a small formula with hostile labels, and its scores as they are shown."""
    folder = tmp_path_factory.mktemp("beds")
    (folder / "beds.yaml").write_text(FORM, encoding="utf-8")
    (folder / "beds.csv").write_text(READINGS, encoding="utf-8")
    form, readings = load(folder / "beds.yaml", folder / "beds.csv", [])
    asked = Asked((), 0, 16, "", "steelyard appendix beds.yaml beds.csv --out DIR")
    facts = facts_of(work_out(form, readings, None, folder / "beds.csv", None, asked))
    column = score_catalogue(form, readings).column("upright")
    assert len(column.shown) == 9
    said = Section(
        "hostile",
        (Run("Labels"),),
        tuple(Paragraph((Run(s), Run(s, "name"), Run(s, "code"))) for s in HOSTILE.values()),
    )
    return replace(facts, sections=(*facts.sections, said)), [f"{value:.1f}" for value in column.shown]


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
    text = re.sub(r"[\u200b\s]+", " ", text_of(pdf))
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
    text = re.sub(r"\s+", " ", text_of((tmp_path / "appendix.pdf").read_bytes()))
    for product, score in enumerate(shown):
        assert re.search(rf"A-{product:02d} \d+=? {re.escape(score)}", text), (product, score)


def test_code_in_latex_may_break_where_it_hurts_least() -> None:
    """After a point or a bar, and nothing of it is lost."""
    assert code("a.b_c") == r"a.\allowbreak{}b\_\allowbreak{}c"
