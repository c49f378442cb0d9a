"""`steelyard schema`: what may stand in a formula file, for editors and for readers, from the tables that the reader goes by."""

from __future__ import annotations

from analysis.cli.terminal import print_json, print_text
from scoring.form_reference import form_reference
from scoring.schema import formula_schema


def run(*, page: bool) -> None:
    """Print the JSON Schema, or the page."""
    if page:
        print_text(form_reference())
    else:
        print_json(formula_schema())
