"""`steelyard schema`: what may stand in the files of a laboratory, for editors and for readers, from what the readers go by."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import chain

from analysis.cli.terminal import print_json, print_text
from analysis.project import project_schema, project_section
from analysis.records.schema import record_schema
from analysis.study.study_reference import study_schema, study_section
from scoring.errors import Place, Problem, SteelyardError
from scoring.form_reference import form_reference
from scoring.form_reference.schema import formula_schema
from scoring.recipe import recipe_schema

#: What each option prints.
PRINTS: dict[str, Callable[[], None]] = {
    "--page": lambda: print_text(form_reference(chain(study_section(), project_section()))),
    "--recipe": lambda: print_json(recipe_schema()),
    "--study": lambda: print_json(study_schema()),
    "--project": lambda: print_json(project_schema()),
    "--record": lambda: print_json(record_schema()),
}


def run(asked: Mapping[str, bool]) -> None:
    """Print the JSON Schema of a formula, or what the one option asks for."""
    options = [option for option in PRINTS if asked[option]]
    if len(options) > 1:
        beside = " and ".join(f"`{option}`" for option in options)
        raise SteelyardError([Problem(Place("schema"), beside, f"one of {', '.join(PRINTS)}")])
    if options:
        PRINTS[options[0]]()
    else:
        print_json(formula_schema())
