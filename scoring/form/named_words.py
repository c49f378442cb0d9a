"""The words that a formula goes by: those that its expressions and conditions compare an attribute with."""

from __future__ import annotations

from scoring.form.atoms import Expression, Term
from scoring.form.form import Form


def named_words(form: Form, attribute: str) -> set[str]:
    """The words that conditions and expressions compare an attribute with."""
    found: set[str] = set()
    waiting = [one.term for one in form.addressed.values() if isinstance(one, Expression)]
    while waiting:
        term = waiting.pop()
        if term.op == "text==" and term.args[0] == attribute:
            found.add(str(term.args[1]))
        waiting += [arg for arg in term.args if isinstance(arg, Term)]
    return found
