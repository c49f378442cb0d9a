"""What a record keeps of a score table: formula, addresses, rules, readings, reference figures, published figures.

Each reading stands as a catalogue would write it, and a catalogue is made of them again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from importlib.metadata import version
from typing import Any

import numpy as np

from analysis.cautions import cautions
from analysis.draft.standing import draft_key, draft_of
from analysis.json_text import digest_of, number_or_none
from analysis.records.record import Sections, near
from analysis.report.source import texts_of
from analysis.scores.document import products_of
from scoring.addresses.addresses import addresses, written
from scoring.catalogue import Catalogue, Readings, State, published_reason
from scoring.catalogue.as_read import Said, as_read_of
from scoring.catalogue.cells import parse_cells
from scoring.catalogue.conditions_of_reading import SHARED, conditions_of
from scoring.catalogue.reporting_limit import recount
from scoring.errors import CatalogueError, Place, Problem
from scoring.form import Band, Form, Measure, Output, Ranks, named_words
from scoring.numbers.array_types import Texts
from scoring.program.program import Program
from scoring.program.reference import statistic_of
from scoring.table.evaluate import Inputs, population_of
from scoring.table.table import ScoreTable

Cell = float | str | None
#: What stands for the words of an attribute that is not published, where no condition of the formula names them.
NOT_PUBLISHED = "not published"
#: What a record does without: which part decided a figure follows from the formula and the readings.
NOT_RECORDED = "decided_by"
#: A reading below a limit that the cell itself does not state.
BELOW = "<"


def readings_section(catalogue: Catalogue, inputs: Inputs, form: Form) -> list[dict[str, Any]]:
    """Attributes and readings of every product, with a digest of each product's own; `inputs` are the summarised readings.

    Sessions and specimens are kept of the measures whose declared errors are shared within them: uncertainties rest on them.
    """
    declared = {m.name: [key for key, component in SHARED.items() if m.declares(component)] for m in form.measures}
    shared = {name: keys for name, keys in declared.items() if keys and name in catalogue.readings}
    named = {name: _conditions(catalogue, name, keys) for name, keys in shared.items()}
    attributes = {name: _words(name, words, form) for name, words in catalogue.attributes.items()}
    found = []
    for index, product in enumerate(catalogue.products):
        content = {
            "attributes": {name: words[index] for name, words in attributes.items()},
            "measures": {
                name: _reading(catalogue, inputs, name, index, form)
                | {key: _texts(texts[index]) for key, texts in named.get(name, {}).items()}
                | _as_read(catalogue, name, index)
                for name in inputs.values
            },
        }
        found.append({"id": product, "digest": digest_of(content), **content})
    return found


def _words(name: str, words: Sequence[str], form: Form) -> Sequence[str]:
    """The words of an attribute; of one that is not published, what the formula's conditions make of them and no more.

    A word that a condition names stays, for the figures follow from it; any other becomes one that no condition names.
    """
    declared = form.attributes_by_name.get(name)
    if declared is None or declared.public:
        return words
    named = named_words(form, name)
    other = NOT_PUBLISHED
    while other in named:
        other += "."
    return [word if word in named or not word else other for word in words]


def _reading(catalogue: Catalogue, inputs: Inputs, measure: str, product: int, form: Form) -> dict[str, Any]:
    """The summarised reading and its repeats; null for the repeats of a measure that has no column."""
    value = float(inputs.values[measure][0, product])
    readings = catalogue.readings.get(measure)
    return {
        "value": None if np.isnan(value) else value,
        "state": word_of(int(inputs.states[measure][product])),
        "repeats": None if readings is None else _cells(readings, product, form),
    }


def _as_read(catalogue: Catalogue, measure: str, product: int) -> dict[str, Any]:
    """What the cells of converted repeats say; nothing where none was converted, so that such records stay as they were."""
    readings = catalogue.readings.get(measure)
    if readings is None or readings.as_read is None:
        return {}
    said = [readings.said(product, repeat) for repeat in range(readings.marks.shape[1])]
    while said and said[-1] is None:
        said.pop()
    cells = [None if one is None else {"number": one.number, "unit": one.unit} for one in said]
    return {"as_read": cells} if cells else {}


def _conditions(catalogue: Catalogue, measure: str, keys: Sequence[str]) -> dict[str, Texts]:
    found = conditions_of(catalogue, measure)
    texts = {"session": found.sessions, "specimen": found.specimens}
    return {f"{key}s": texts[key] for key in keys}


def _texts(texts: Texts) -> list[str]:
    """The texts beside a product's repeats, without empty ones after the last."""
    kept = [str(text) for text in texts]
    while kept and not kept[-1]:
        kept.pop()
    return kept


def word_of(state: int) -> str:
    """A state as a word."""
    return State(state).name.lower().replace("_", " ")


def _cells(readings: Readings, product: int, form: Form) -> list[Cell]:
    cells = [_cell(readings, (product, repeat), form) for repeat in range(readings.marks.shape[1])]
    while cells and cells[-1] is None:
        cells.pop()
    return cells


def _cell(readings: Readings, cell: tuple[int, int], form: Form) -> Cell:
    """A number, `< 22.0`, `missing`, `not applicable`; None where the product has no such repeat.

    Why stands behind it, as in `missing: why`, where the formula publishes the laboratory's reasons.
    """
    mark, number = State(int(readings.marks[cell])), float(readings.written[cell])
    if mark == State.NONE:
        return None
    if mark == State.VALUE:
        return number
    if mark == State.BELOW:
        return BELOW if np.isnan(number) else f"{BELOW} {number!r}"
    reason = published_reason(readings, cell, form)
    return f"{word_of(mark)}: {reason}" if reason else word_of(mark)


def catalogue_from(sections: Sections, form: Form) -> Catalogue:
    """The catalogue that a record's readings make, for the formula recorded with them.

    Raises
    ------
    CatalogueError : a cell that is none
    """
    products, problems = sections["readings"], list[Problem]()
    held = {
        measure.name: _readings(measure, [one["measures"][measure.name] for one in products], problems)
        for measure in form.measures
        if any(one["measures"].get(measure.name, {}).get("repeats") is not None for one in products)
    }
    if problems:
        raise CatalogueError(problems)
    names = products[0]["attributes"] if products else {}
    return Catalogue(
        source="the record",
        products=tuple(one["id"] for one in products),
        attributes={name: tuple(one["attributes"][name] for one in products) for name in names},
        readings=held,
        sha256=sections["catalogue"]["sha256"],
        unused=tuple(sections["catalogue"]["unused"]),
        extras=_extras(products, held),
    )


def _extras(products: Sequence[Mapping[str, Any]], held: Mapping[str, Readings]) -> dict[str, dict[str, Texts]]:
    """The sessions and specimens that a record keeps, in the shape of the readings."""
    found: dict[str, dict[str, Texts]] = {}
    for name, readings in held.items():
        for key in SHARED:
            rows = [one["measures"][name].get(f"{key}s") for one in products]
            if any(row is not None for row in rows):
                texts, width = np.full(readings.values.shape, "", dtype=object), readings.values.shape[1]
                for product, row in enumerate(rows):
                    kept = (row or [])[:width]
                    texts[product, : len(kept)] = kept
                texts.setflags(write=False)
                found.setdefault(key, {})[name] = texts
    return found


def _readings(measure: Measure, kept: Sequence[Mapping[str, Any]], problems: list[Problem]) -> Readings:
    """The readings of one measure, from what a record keeps of each product."""
    rows: list[Sequence[Cell] | None] = [one["repeats"] for one in kept]
    n_repeats = max([len(row or ()) for row in rows] + [1])
    written = np.full((len(rows), n_repeats), np.nan)
    marks = np.full(written.shape, State.NONE, dtype=np.uint8)
    reasons: dict[tuple[int, int], str] = {}
    for product, row in enumerate(rows):
        cells: Texts = np.array([*(row or ()), None], dtype=object)[:-1]
        parsed = parse_cells(np.array([None if cell == BELOW else cell for cell in cells] + [None], dtype=object)[:-1])
        stated = np.array([State.BELOW if cell == BELOW else State.NONE if cell is None else 0 for cell in cells], int)
        written[product, : len(cells)] = parsed.numbers
        marks[product, : len(cells)] = np.where(stated > 0, stated, parsed.states)
        reasons |= {(product, repeat): reason for repeat, reason in parsed.reasons.items()}
        place = Place("the record's readings", column_name=measure.name)
        problems += (Problem(place, fault.found, fault.expected, fault.hint) for fault in parsed.faults.values())
    rows_of, columns = (
        np.zeros(written.shape, dtype=np.int64),
        tuple(f"{measure.name} #{i + 1}" for i in range(n_repeats)),
    )
    said = as_read_of([[one and Said(**one) for one in of.get("as_read", ())] for of in kept], written.shape)
    plain = Readings(written, marks, reasons, written.copy(), marks.copy(), rows_of, columns, "the record", said)
    return recount(measure, plain)


def has_reasons(sections: Sections) -> bool:
    """Whether a record says of any reading why it is missing."""
    repeats = (one["repeats"] or () for product in sections["readings"] for one in product["measures"].values())
    return any(isinstance(cell, str) and ": " in cell for cells in repeats for cell in cells)


def same_cells(old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    """Whether two readings rest on the same repeats; empty cells after the last one make no difference."""
    cells = _filled(old["repeats"]), _filled(new["repeats"])
    return len(cells[0]) == len(cells[1]) and all(same_cell(a, b) for a, b in zip(*cells, strict=True))


def same_cell(old: Cell, new: Cell) -> bool:
    """Whether two cells say the same; numbers within the tolerance, for a conversion of units may leave dust."""
    if isinstance(old, str) and isinstance(new, str):
        (state, _, why), (now, _, because) = old.partition(": "), new.partition(": ")
        # a record of before has the reasons, and whether they are published is no reading
        return old == new or (state == now and not (why and because))
    if isinstance(old, str) or isinstance(new, str):
        return False
    return near(old, new)


def _filled(cells: Sequence[Cell] | None) -> list[Cell]:
    kept = list(cells or ())
    while len(kept) > 1 and kept[-1] in (None, "missing"):
        kept.pop()
    return kept


#: Packages whose versions a record states, for information.
TOOLS = ("steelyard", "numpy", "sympy")


def sections_of(table: ScoreTable, program: Program, settings: Sequence[str]) -> dict[str, Any]:
    """Every section of a state, ready for JSON. `program` is that of the table's form; `settings` were tried on it."""
    form = table.form
    return {
        "formula": _formula(form, settings) | draft_key(draft_of(form, table.catalogue)),
        "addresses": {address: written(form, noun) for address, noun in addresses(form).items()},
        "rules": _rules(form),
        "catalogue": {
            "sha256": table.catalogue.sha256,
            "products": len(table.catalogue.products),
            "unused": [],  # nothing is published that the formula does not name
        },
        "readings": readings_section(table.catalogue, table.inputs, form),
        "reference": _reference(table, program),
        "figures": _figures(table),
        "cautions": list(cautions(form)),
        "tool": {name: version(name) for name in TOOLS},
    }


def _formula(form: Form, settings: Sequence[str]) -> dict[str, Any]:
    """Names, hash and texts."""
    return {
        "name": form.name,
        "version": form.version,
        "title": form.title,
        "sha256": form.sha256,
        "settings": list(settings),
        "texts": texts_of(form),
    }


def _rules(form: Form) -> dict[str, Any]:
    return {
        "outputs": {
            output.name: {
                "section": output.section,
                "label": output.label,
                "step": output.scale.show.step.value,
                "rule": output.scale.show.rule.value,
                **_own_rules(form, output),
            }
            for output in form.outputs
        },
        "ranks": _ranks(form.ranks),
        "bands_on": form.bands_on.value,
        "bands": _bands(form.bands),
    }


def _own_rules(form: Form, output: Output) -> dict[str, Any]:
    """The rules of ranks and bands that an output has of its own; nothing where those of the formula hold."""
    found: dict[str, Any] = {} if output.ranks == form.ranks else {"ranks": _ranks(output.ranks)}
    return found if output.bands.inherited else {**found, "bands": _bands(output.bands.edges)}


def _ranks(ranks: Ranks) -> dict[str, str]:
    """The rules of places; without a word of classes where none are counted, as in records of before."""
    within = {"within": ranks.classes} if ranks.classes else {}
    return {"on": ranks.on.value, "ties": ranks.ties.value, "best": ranks.best.value, **within}


def _bands(bands: Sequence[Band]) -> list[dict[str, Any]]:
    return [{"name": band.name, "from": band.edge.value} for band in bands]


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
                    statistic_of(figure.statistic, population_of(program, table.inputs, figure.measure), figure.share)
                ).tolist()
            ],
        }
        for figure in program.figures
    ]


def _figures(table: ScoreTable) -> list[dict[str, Any]]:
    """Value, shown figure, rank, band, status and remarks of every rating and score."""
    in_full = products_of(replace(table, scores=table.ratings + table.scores, ratings=()))
    ratings = {column.output.name for column in table.ratings}

    def kept(product: Mapping[str, Any], *, rated: bool) -> dict[str, Any]:
        of = {name: standing for name, standing in product["scores"].items() if (name in ratings) is rated}
        return {name: {k: v for k, v in standing.items() if k != NOT_RECORDED} for name, standing in of.items()}

    return [
        {"id": product["id"], "ratings": kept(product, rated=True), "scores": kept(product, rated=False)}
        for product in in_full
    ]
