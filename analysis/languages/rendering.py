"""The facts as a page in HTML and as one in Markdown, and what every template of the set shares."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from analysis import templates
from analysis.languages import markdown
from analysis.languages.facts import Facts, Figure, figures_of, kind_of, plain_text
from analysis.languages.mathml import LEFT, mathml
from analysis.templates import Environment, Markup, content_hash, picture_uri
from scoring.symbolic.notation import Notation

TEMPLATES = Path(__file__).parent / "templates"
Files = dict[str, bytes]


def environment(*, escape: bool, **syntax: Any) -> Environment:
    """Templates of one language, with what all of them share."""
    made = templates.environment(TEMPLATES, escape=escape, **syntax)
    made.filters |= {"kind": kind_of, "plain_text": plain_text}
    return made


def html_files(facts: Facts) -> Files:
    """One page that needs nothing else: no script, no network."""
    made = environment(escape=True)
    made.filters |= {"clean": markdown.one_line_of, "mathml": _mathml, "picture_uri": _picture_uri}
    style = stylesheet()
    policy = (
        f"default-src 'none'; style-src '{content_hash(style)}'; img-src data:; base-uri 'none'; form-action 'none'"
    )
    page = made.get_template("document.html").render(facts=facts, style=Markup(style), policy=policy)
    return {f"{facts.name}.html": page.encode()}


def _picture_uri(figure: Figure) -> str:
    return picture_uri(figure.svg, figure.png)


def stylesheet() -> str:
    """The page's own style sheet."""
    return (TEMPLATES / "document.css").read_text(encoding="utf-8")


def _mathml(notation: Notation) -> Markup:
    """Escaped by its own printer; the style attribute goes, since the page's policy lets none through."""
    return Markup(mathml(notation).replace(LEFT, ""))


def markdown_files(facts: Facts) -> Files:
    """A page in Markdown, with its formulas in LaTeX between `$$`, and its pictures beside it."""
    made = environment(escape=False)
    made.filters |= {
        "text": markdown.text,
        "code": markdown.code,
        "cell_code": markdown.cell_code,
        "run": markdown.run_text,
        "cell": markdown.cell_text,
        "opening": markdown.opening,
        "latex": markdown.formula,
    }
    page = made.get_template("document.md").render(facts=facts)
    return {f"{facts.name}.md": _one_blank_line(page).encode(), **figure_files(facts)}


def _one_blank_line(page: str) -> str:
    """The page with no line that ends in a space, and no two blank lines together."""
    lines: list[str] = []
    for line in page.split("\n"):
        if line.strip() or (lines and lines[-1]):
            lines.append(line.rstrip())
    return "\n".join(lines).rstrip("\n") + "\n"


def figure_files(facts: Facts) -> Files:
    """Every picture as SVG and PNG, by file name."""
    return {f"{one.name}.{kind}": getattr(one, kind) for one in figures_of(facts) for kind in ("svg", "png")}
