"""The section on provenance: what the appendix was made from, with what, and how to make it again."""

from __future__ import annotations

import sys
from importlib.metadata import version

from analysis.languages.facts import Run, Runs, Section
from analysis.languages.writing import code, name, runs, table
from analysis.methods_appendix.workings import Workings
from analysis.wording import counted

LIBRARIES = ("numpy", "scipy", "sympy", "pandas", "matplotlib", "jinja2")


def provenance_section(found: Workings) -> Section:
    """Hashes, versions, seed, command."""
    form, asked = found.form, found.asked
    rows: list[tuple[str | Run | Runs, ...]] = [
        ("formula", (name(f"{form.name} {form.version}".strip()),)),
        ("formula, sha256", code(form.sha256)),
        ("catalogue", counted(len(found.table.catalogue.products), "product")),
        ("catalogue, sha256", code(found.table.catalogue.sha256)),
        (
            "values tried on the formula",
            (code("; ".join(asked.settings)),) if asked.settings else "none: the formula as it stands in its file",
        ),
        (
            "study",
            (name(found.study.name), Run(", sha256 "), code(found.study.sha256))
            if found.study.sha256
            else found.study.source,
        ),
    ]
    if found.comparison is not None:
        rows.append(("previous version, sha256", code(found.comparison.old.form.sha256)))
    rows += [
        ("seed of every random draw", str(asked.seed)),
        ("base points of sensitivity", str(asked.draws)),
        ("steelyard", version("steelyard")),
        ("Python", ".".join(map(str, sys.version_info[:3]))),
        *((library, version(library)) for library in LIBRARIES),
    ]
    if asked.command:
        rows.insert(0, ("command", code(asked.command)))
    if asked.date:
        rows.insert(0, ("date, as given", (name(asked.date),)))
    caption = runs("What this appendix was made from. The same files, seed and versions give the same bytes.")
    return Section("provenance", runs("Provenance"), (table("provenance", caption, ("what", "value"), rows),))
