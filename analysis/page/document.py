"""The page as one file: its text, its look, its model and its code, with a policy that lets nothing else run or load."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from analysis.draft.standing import draft_of, draft_sentence
from analysis.page.model import PageModel, page_model
from analysis.templates import Markup, content_hash, environment
from scoring.table.table import ScoreTable

ROOM = Path(__file__).parent
#: The page's code, in the order in which it is read.
SCRIPTS = ("arrays", "scoring", "state", "controls", "table", "pair", "curve", "start")
#: What must not stand in a script element, lest it end there.
ESCAPED = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}


def page_text(table: ScoreTable, where: Sequence[str] = ()) -> str:
    """One self-contained HTML page on which any address of the table's formula can be moved.

    Parameters
    ----------
    where : "ATTRIBUTE=WORD" of the products that it shows at first, one word of an attribute, as its menus have them

    Raises
    ------
    FormulaError : outputs need each other in a circle
    """
    model = page_model(table, where)
    script, style = _script(model), _piece("style.css")
    page = environment(ROOM, escape=True).get_template("page.html")
    return page.render(
        title=table.form.title,
        draft=draft_sentence(draft_of(table.form, table.catalogue)),
        products=len(table.catalogue.products),
        script_hash=content_hash(script),
        style_hash=content_hash(style),
        style=Markup(style),
        model=Markup(_json(model)),
        script=Markup(script),
    )


def _script(model: PageModel) -> str:
    """The page's code: strict, and all its names its own."""
    steps = ",\n".join(f"x => {code}" for code in model.codes)
    pieces = [_piece(f"script/{name}.js") for name in SCRIPTS]
    start = 'const model = JSON.parse(document.getElementById("model").textContent);'
    return "\n".join(
        ['(() => {\n"use strict";', start, pieces[0], f"const STEPS = [\n{steps}\n];", *pieces[1:], "})();"]
    )


def _json(model: PageModel) -> str:
    text = json.dumps(model.document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return "".join(ESCAPED.get(letter, letter) for letter in text)


def _piece(name: str) -> str:
    return (ROOM / name).read_text(encoding="utf-8")
