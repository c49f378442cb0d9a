"""`steelyard schema`: what may stand in a formula file, for editors and for readers, from the tables that the reader goes by."""

from __future__ import annotations

import sys

from analysis.cli.terminal import print_json
from scoring.form_reference import form_reference
from scoring.schema import formula_schema


def run(*, page: bool) -> None:
    """Print the JSON Schema, or the page."""
    if page:
        sys.stdout.write(form_reference())
    else:
        print_json(formula_schema())
