"""Written expressions: from text to a syntax tree, which is walked to terms. Nothing is ever evaluated as Python.

The text is cut into allowed tokens first; every name is replaced by a private one before the syntax tree is built, so a
measure may be called E, I, S, lambda or pi and keeps its meaning.
"""

from __future__ import annotations

import ast
from collections.abc import Mapping

from scoring.errors import FormulaError, Place
from scoring.expression.slips import misplaced
from scoring.expression.tokens import MOST_CHARACTERS, cut_tokens, fault_at, unclosed_bracket, with_private_names
from scoring.expression.walk import Walk, check_nones, is_condition, walk_term
from scoring.form import Expression
from scoring.texts.source import Spot


def parse_expression(
    text: str,
    *,
    kinds: Mapping[str, str],
    words: Mapping[str, tuple[str, ...]],
    condition: bool,
    address: str,
    place: Place,
    spot: Spot,
) -> Expression:
    """The tree of one written expression.

    Parameters
    ----------
    text : str
        At most 2 000 characters.
    kinds : mapping of name to "measure", "rating", "score" or "constant"
        The names that may stand in it.
    words : mapping of attribute name to its allowed words (empty: any)
        Attributes may be compared with words by == and !=.
    condition : bool
        Whether a condition (true or false) is wanted, or a number.

    Raises
    ------
    FormulaError
        Anything that is not on the allow-list, with its column.
    """
    if len(text) > MOST_CHARACTERS:
        raise fault_at(place, 0, f"an expression of {len(text)} characters", f"at most {MOST_CHARACTERS}")
    tokens = cut_tokens(text, place)
    source, starts = with_private_names(tokens)
    walk = Walk(text, kinds, words, tokens, starts, place, spot, address, condition)
    try:
        tree = ast.parse(source, mode="eval")
    except (SyntaxError, ValueError, MemoryError, RecursionError) as fault:
        raise _syntax_fault(fault, source, walk) from None
    term = walk_term(tree.body, walk, 0)
    if is_condition(term) != condition:
        wanted, found = ("a condition", "a number") if condition else ("a number", "a condition")
        hint = "Compare it with something." if condition else "Wrap it in where(condition, a, b)."
        raise walk.fault(0, found, wanted, hint)
    check_nones(term, walk)
    return Expression(text, term, tuple(walk.numbers), tuple(walk.names), condition, address, place, spot)


def _syntax_fault(fault: Exception, source: str, walk: Walk) -> FormulaError:
    """Where the text stops to be an expression; `source` is the same with private names, which the parser read."""
    tokens = walk.tokens
    column = getattr(fault, "offset", None) or len(source) + 1  # the parser says 0 where the text ends too soon
    at = max((i for start, i in walk.starts.items() if start < column), default=0)
    opened = unclosed_bracket(tokens)
    if opened is not None:
        return walk.fault(opened, "`(` that is never closed", "a `)` for it")
    near = tokens[at].text if tokens else "nothing"
    hint = misplaced([token.text for token in tokens], at)
    return walk.fault(at, f"`{near}` where it cannot stand", "a complete expression", hint)
