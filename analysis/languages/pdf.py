"""A document as Typst, and as a PDF made of it: tagged for screen readers, the same bytes from the same facts."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from analysis.languages.facts import Facts
from analysis.languages.plain import plain
from analysis.languages.rendering import Files, environment, figure_files
from analysis.languages.typst import typst, typst_code, typst_string
from scoring.errors import Place, Problem, ScoringError

#: Marks of a template whose language has `{`, `#` and `%` for itself.
MARKS = {
    "block_start_string": "<%",
    "block_end_string": "%>",
    "variable_start_string": "<<",
    "variable_end_string": ">>",
    "comment_start_string": "<#",
    "comment_end_string": "#>",
}


def typst_files(facts: Facts) -> Files:
    """The document in Typst, and its pictures beside it."""
    made = environment(escape=False, **MARKS)
    made.filters |= {"string": typst_string, "code": typst_code, "typst": typst, "plain": plain}
    page = made.get_template("document.typ").render(facts=facts)
    return {f"{facts.name}.typ": page.encode(), **figure_files(facts)}


def pdf_files(facts: Facts) -> Files:
    """The document as a PDF, and the Typst that it is made of.

    Raises
    ------
    ScoringError
        The typst package is not installed.
    """
    files = typst_files(facts)
    return {**files, f"{facts.name}.pdf": pdf_of(files, facts.name)}


def pdf_of(files: Files, name: str = "appendix") -> bytes:
    """The file `name`.typ as PDF/UA-1, A4, without a date: with the fonts that Typst carries, whatever this machine has.

    Raises
    ------
    ScoringError
        The typst package is not installed.
    """
    try:
        import typst as compiler
    except ImportError as fault:
        hint = "Try pip install 'steelyard[pdf]'."
        problem = Problem(Place(f"{name}.pdf"), "no typst package", "typst, which sets the PDF", hint)
        raise ScoringError([problem]) from fault
    with TemporaryDirectory() as folder:
        for file, content in files.items():
            (Path(folder) / file).write_bytes(content)
        made = compiler.compile(f"{folder}/{name}.typ", root=folder, ignore_system_fonts=True, pdf_standards=["ua-1"])
    return bytes(made)
