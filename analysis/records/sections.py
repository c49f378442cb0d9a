"""What a record keeps of a score table: formula, addresses, rules, readings, reference figures, published figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

from analysis.cautions import cautions
from analysis.json_text import number_or_none
from analysis.records.readings import readings_section
from analysis.scores.document import products_of
from scoring.addresses.addresses import addresses, written
from scoring.form import Form
from scoring.program.program import Program
from scoring.program.reference import statistic_of
from scoring.table.evaluate import crowd_of
from scoring.table.table import ScoreTable

#: Packages whose versions a record states, for information.
TOOLS = ("steelyard", "numpy", "sympy")


def sections_of(table: ScoreTable, program: Program, settings: Sequence[str]) -> dict[str, Any]:
    """Every section of a state, ready for JSON. `program` is that of the table's form; `settings` were tried on it."""
    form = table.form
    return {
        "formula": _formula(form, settings),
        "addresses": {address: written(form, noun) for address, noun in addresses(form).items()},
        "rules": _rules(form),
        "catalogue": {
            "sha256": table.catalogue.sha256,
            "products": len(table.catalogue.products),
            "unused": list(table.catalogue.unused),
        },
        "readings": readings_section(table.catalogue, table.inputs, form),
        "reference": _reference(table, program),
        "figures": _figures(table),
        "cautions": list(cautions(form)),
        "tool": {name: version(name) for name in TOOLS},
    }


def _formula(form: Form, settings: Sequence[str]) -> dict[str, Any]:
    """Names, hash and texts, by names that do not tell where on a machine the files stood."""
    folder = Path(form.sources[0].name).parent
    names = [Path(source.name) for source in form.sources]
    return {
        "name": form.name,
        "version": form.version,
        "title": form.title,
        "sha256": form.sha256,
        "settings": list(settings),
        "texts": [
            {"name": name.relative_to(folder).as_posix(), "text": source.text}
            for name, source in zip(names, form.sources, strict=True)
        ],
    }


def _rules(form: Form) -> dict[str, Any]:
    return {
        "outputs": {
            output.name: {
                "section": output.section,
                "label": output.label,
                "step": output.scale.show.step.value,
                "rule": output.scale.show.rule.value,
            }
            for output in form.outputs
        },
        "ranks": {"on": form.ranks.on.value, "ties": form.ranks.ties.value, "best": form.ranks.best.value},
        "bands_on": form.bands_on.value,
        "bands": [{"name": band.name, "from": band.edge.value} for band in form.bands],
    }


def _reference(table: ScoreTable, program: Program) -> list[dict[str, Any]]:
    """The statistics of the catalogue that the formula leans on."""
    return [
        {
            "measure": figure.measure,
            "statistic": figure.statistic,
            "share": figure.share,
            "value": [
                number_or_none(value)
                for value in np.ravel(
                    statistic_of(figure.statistic, crowd_of(program, table.inputs, figure.measure), figure.share)
                ).tolist()
            ],
        }
        for figure in program.figures
    ]


def _figures(table: ScoreTable) -> list[dict[str, Any]]:
    """Value, shown figure, rank, band, status and remarks of every rating and score."""
    in_full = products_of(replace(table, scores=table.ratings + table.scores, ratings=()))
    ratings = {column.output.name for column in table.ratings}
    return [
        {
            "id": product["id"],
            "ratings": {name: standing for name, standing in product["scores"].items() if name in ratings},
            "scores": {name: standing for name, standing in product["scores"].items() if name not in ratings},
        }
        for product in in_full
    ]
