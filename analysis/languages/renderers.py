"""The languages of a document: what makes the files of each, all from the same facts."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib.util import find_spec

from analysis.languages.facts import Facts
from analysis.languages.pdf import pdf_files, typst_files
from analysis.languages.rendering import Files, html_files, markdown_files
from analysis.languages.tex import tex_files

#: The PDF is there where the package that sets it is installed.
WITH_PDF = find_spec("typst") is not None
NO_PDF = "There is no appendix.pdf: it needs the package typst (pip install 'steelyard[pdf]'); appendix.html prints well too."
RENDERERS: Mapping[str, Callable[[Facts], Files]] = {
    "html": html_files,
    "md": markdown_files,
    "tex": tex_files,
    "typ": typst_files,
    "pdf": pdf_files,
}


def render(facts: Facts) -> Files:
    """Every file of the document in every language, all made before any is written."""
    files: Files = {}
    for language in ("html", "md", "tex", "pdf" if WITH_PDF else "typ"):
        files |= RENDERERS[language](facts)
    return files
