"""The appendix as Typst, and as a PDF made of it: tagged for screen readers, the same bytes from the same facts."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from analysis.methods_appendix.facts import Facts
from analysis.methods_appendix.plain import plain
from analysis.methods_appendix.rendering import Files, environment, figure_files
from analysis.methods_appendix.typst import typst
from analysis.methods_appendix.typst_letters import typst_code, typst_string
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
    """The appendix in Typst, and its pictures beside it."""
    made = environment(escape=False, **MARKS)
    made.filters |= {"string": typst_string, "code": typst_code, "typst": typst, "plain": plain}
    return {"appendix.typ": made.get_template("appendix.typ").render(facts=facts).encode(), **figure_files(facts)}


def pdf_files(facts: Facts) -> Files:
    """The appendix as a PDF, and the Typst that it is made of.

    Raises
    ------
    ScoringError
        The typst package is not installed.
    """
    files = typst_files(facts)
    return {**files, "appendix.pdf": pdf_of(files)}


def pdf_of(files: Files) -> bytes:
    """`appendix.typ` as PDF/UA-1, A4, without a date: with the fonts that Typst carries, whatever this machine has.

    Raises
    ------
    ScoringError
        The typst package is not installed.
    """
    try:
        import typst as compiler
    except ImportError as fault:
        hint = "Try pip install 'steelyard[pdf]'."
        problem = Problem(Place("appendix.pdf"), "no typst package", "typst, which sets the PDF", hint)
        raise ScoringError([problem]) from fault
    with TemporaryDirectory() as folder:
        for name, content in files.items():
            (Path(folder) / name).write_bytes(content)
        made = compiler.compile(f"{folder}/appendix.typ", root=folder, ignore_system_fonts=True, pdf_standards=["ua-1"])
    return bytes(made)
