"""Any text as Markdown that shows it letter for letter: CommonMark with tables, inside and outside their cells."""

from __future__ import annotations

import re

from analysis.languages.facts import Run
from analysis.languages.latex import latex
from analysis.languages.plain import isolated, one_line
from scoring.symbolic.notation import Notation

#: Every sign that can mean something inside a line; `&` begins an entity.
SIGNS = re.compile(r"([\\`*_{}\[\]<>#|~$^&@])")
#: What can begin a list, a heading under a line, or a numbered item.
OPENING = re.compile(r"^(?:([-+=])|(\d+)([.)]))")
#: What a reader may turn into a link by itself.
ADDRESSES = re.compile(r"(?i)\b(https?|ftp|mailto|www)([:.])")
#: Signs of Markdown that LaTeX leaves as they are in a text, and how they are set there; a skip between lines stays.
TYPESET = {"*": r"$\ast$", "[": r"$\lbrack$", "]": r"$\rbrack$"}
IN_FORMULAS = re.compile(r"\\\\\[\d+pt\]|[*\[\]]")


def text(words: str) -> str:
    """The words with every sign escaped."""
    return ADDRESSES.sub(r"\1\\\2", SIGNS.sub(r"\\\1", one_line_of(words)))


def one_line_of(words: str) -> str:
    """The words on one line, their spaces at both ends kept as one."""
    inner = one_line(words)
    if not inner:
        return " " if words else ""
    return f"{' ' if words[0].isspace() else ''}{inner}{' ' if words[-1].isspace() else ''}"


def code(words: str) -> str:
    """The words as a code span, whatever backticks they hold."""
    inner = one_line(words)
    longest = max((len(ticks) for ticks in re.findall("`+", inner)), default=0)
    fence = "`" * (longest + 1)
    pad = " " if inner.startswith("`") or inner.endswith("`") else ""
    return f"{fence}{pad}{inner}{pad}{fence}"


def cell_code(words: str) -> str:
    """A code span inside a table's cell, where a bar ends the cell even in code."""
    return code(words).replace("|", "\\|")


def run_text(run: Run) -> str:
    """A run in a paragraph."""
    if run.kind == "code":
        return code(run.text)
    words = isolated(text(run.text)) if run.kind in ("name", "link") else text(run.text)
    return f"[{words}](#{run.target})" if run.kind == "link" else words


def cell_text(run: Run) -> str:
    """A run in a table's cell."""
    return cell_code(run.text) if run.kind == "code" else run_text(run)


def formula(notation: Notation) -> str:
    """A formula in LaTeX whose texts mean nothing to Markdown either, where a reader does not know what `$$` is."""
    safe = IN_FORMULAS.sub(lambda found: TYPESET.get(found[0], found[0]), latex(notation))
    return ADDRESSES.sub(r"\1{}\2", safe)


def opening(line: str) -> str:
    """A line whose first letters begin neither a list nor a heading."""
    return OPENING.sub(lambda m: f"\\{m[1]}" if m[1] else f"{m[2]}\\{m[3]}", line)
