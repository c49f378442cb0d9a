"""Everything worked out for one appendix, before any of it is put into words, and the table of it beside the document."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.comparison.comparison import Comparison, compare_tables
from analysis.explanation.explanation import Explanation, explanation_of
from analysis.importance.study import ScoreWeights, weights_study
from analysis.indices.sensitivity import ScoreSensitivity, sensitivity_study
from analysis.languages.facts import Run
from analysis.languages.writing import Sentences, labels, name
from analysis.outputs.table_files import csv_bytes
from analysis.partial.partial_place import PartialPlace, first_places
from analysis.rankings.catalogue_robustness import CatalogueRobustness, catalogue_robustness
from analysis.rankings.distinguishable import Distinguishable, bench_under
from analysis.rankings.stability import ScoreStability, rank_stability
from analysis.repeats.repeatability import Precision, precisions
from analysis.scores.document import score_frame
from analysis.study import Study, default_study, load_study
from analysis.study.building import Wording, unread_move
from scoring.catalogue import Catalogue, State, with_published_reasons
from scoring.errors import StudyError
from scoring.form import Form
from scoring.program.program import Program
from scoring.table.frames import attribute_columns
from scoring.table.table import Column, ScoreTable

if TYPE_CHECKING:
    import pandas as pd

#: Base points of the sensitivity study unless another number is asked for, and how many draws of stability go to each.
DRAWS = 256
STABILITY_DRAWS = 8
LEAST_STABILITY = 100


@dataclass(frozen=True, slots=True)
class Asked:
    """What the command line asked for. command: the command as it was typed; date: as the user gave it."""

    settings: tuple[str, ...] = ()
    seed: int = 0
    draws: int = DRAWS
    date: str = ""
    command: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Workings:
    """Everything worked out.

    sensitivity, stability: of the scores that have a published product; why_no_sensitivity: in words, "" where it is there;
    benches: what the bench tells apart, by score, where its noise moves one; robustness: to the catalogue, by score;
    explanation: of the example product's score, None where nothing is published; comparison: with the previous version;
    first_places: those that stand on a missing part; unread: how what was not read is drawn, a sentence a measure.
    """

    asked: Asked
    table: ScoreTable
    program: Program
    precisions: tuple[Precision, ...]
    weights: tuple[ScoreWeights, ...]
    study: Study
    sensitivity: tuple[ScoreSensitivity, ...]
    why_no_sensitivity: str
    stability: tuple[ScoreStability, ...]
    benches: Mapping[str, Distinguishable]
    robustness: Mapping[str, CatalogueRobustness]
    explanation: Explanation | None
    comparison: Comparison | None
    first_places: tuple[PartialPlace, ...]
    unread: tuple[str, ...]
    sentences: Sentences

    @property
    def form(self) -> Form:
        """The formula."""
        return self.table.form

    @property
    def called(self) -> list[Run]:
        """Every product by its id and what it is called, as its cell in a table says it."""
        names = self.table.catalogue.product_names
        return [name(names.in_words(product)) for product in self.table.catalogue.products]

    @property
    def tried(self) -> str:
        """What was tried on the formula, as pictures say it; "" for the formula as it stands."""
        return ", ".join(self.asked.settings)

    @property
    def headline(self) -> tuple[Column, ...]:
        """The scores, or the ratings of a formula that has no scores."""
        return self.table.scores or self.table.ratings

    @property
    def nothing_published(self) -> str:
        """That not one figure is published, in words; "" where one is."""
        if any((column.rank >= 1).any() for column in self.headline):
            return ""
        word = "score" if self.table.scores else "rating"
        return f"NOTHING IS PUBLISHED: no product of this catalogue gets any {word} under this formula. Is it the right one?"

    @property
    def example(self) -> Column | None:
        """The score of the worked example: the first that is published for any product."""
        return next((column for column in self.headline if (column.rank >= 1).any()), None)


def work_out(table: ScoreTable, previous: ScoreTable | None, study: Path | None, asked: Asked) -> Workings:
    """Work everything out.

    Parameters
    ----------
    table : the scores as published; previous : those of the version that this one is compared with, on the same readings
    study : a study file; derived from the formula where there is none

    Raises
    ------
    SteelyardError : anything wrong with formula, catalogue or study
    """
    form, catalogue, program = table.form, table.catalogue, table.program
    made = load_study(study, form, catalogue) if study is not None else default_study(form, catalogue)
    made = replace(made, scores=tuple(name for name in made.scores if (table.column(name).rank >= 1).any()))
    indices, why = _sensitivity(made, table, asked)
    draws = max(LEAST_STABILITY, STABILITY_DRAWS * asked.draws)
    firm = rank_stability(made, table, draws=draws, seed=asked.seed, retest=True) if made.scores else ()
    benches = bench_under(made, table, asked.seed)
    quantities = {one.quantities.output.name: one.quantities for one in firm}
    return Workings(
        asked=asked,
        table=table,
        program=program,
        precisions=precisions(form, catalogue),
        weights=weights_study(table, (), {}, seed=asked.seed) if form.outputs else (),
        study=made,
        sensitivity=indices,
        why_no_sensitivity=why,
        stability=firm,
        benches=benches,
        robustness=catalogue_robustness(program, table.inputs, quantities) if quantities else {},
        explanation=_example(table, asked.seed),
        comparison=_compared(previous, table, asked.seed) if previous is not None else None,
        first_places=first_places(table),
        unread=_unread(form, catalogue),
        sentences=Sentences(_texts(form, table)),
    )


def _unread(form: Form, catalogue: Catalogue) -> tuple[str, ...]:
    everything = np.ones(len(catalogue.products), bool)
    return unread_move(form, catalogue, everything, Wording("what other readings say of it"))[1]


def _sensitivity(study: Study, table: ScoreTable, asked: Asked) -> tuple[tuple[ScoreSensitivity, ...], str]:
    """The indices, or why there are none: a study may state correlations that indices by kind cannot be given under."""
    if not study.scores:
        return (), "no score is published"
    try:
        return sensitivity_study(study, table, budget=asked.draws, seed=asked.seed), ""
    except StudyError as fault:
        return (), "; ".join(f"{problem.found}; expected {problem.expected}" for problem in fault.problems)


def _example(table: ScoreTable, seed: int) -> Explanation | None:
    """The first published score's best-placed product, number by number."""
    for column in table.scores or table.ratings:
        for product, rank in enumerate(column.rank.tolist()):
            if rank == 1 or (rank > 1 and column.rank[column.rank >= 1].min() == rank):
                return explanation_of(table, table.catalogue.products[product], only=column.output.name, seed=seed)
    return None


def _compared(previous: ScoreTable, table: ScoreTable, seed: int) -> Comparison:
    readings = {False: previous.catalogue, True: table.catalogue}
    by_formula = {(is_new, by_new): readings[by_new] for is_new in (False, True) for by_new in (False, True)}
    return compare_tables(previous, table, by_formula, seed=seed)


def _texts(form: Form, table: ScoreTable) -> Sequence[str]:
    """Every text of the files that a sentence may hold."""
    words = [*labels(form).values(), *table.catalogue.products, form.name, form.title, form.version]
    words += form.band_names
    words += [*(table.catalogue.product_names.names or {}).values()]
    return words


NAME = "workings.csv"
#: Every reading, a row each.
REPEATS_NAME = "repeats.csv"
#: The state of a product's value of a measure, as the file says it.
STATES = {
    State.VALUE: "value",
    State.BELOW: "below the reporting limit",
    State.MISSING: "missing",
    State.NOT_APPLICABLE: "does not apply",
    State.NONE: "not read",
}


def workings_files(found: Workings) -> dict[str, bytes]:
    """The files by their names."""
    return {NAME: csv_bytes(workings_frame(found)), REPEATS_NAME: csv_bytes(repeats_frame(found))}


def workings_frame(found: Workings) -> pd.DataFrame:
    """One row a product: its attributes, each measure's value after the rule for repeats with its state, then the score table.

    Beside each value stand its repeats as the cells have them, with their unit where that is another. Values of measures are in
    the measure's unit, after repeats are summarised, floored and rounded as the formula says, and unrounded else; the columns of
    ratings and scores are those of `steelyard score --out`.
    """
    import pandas as pd  # slow to import, and most commands make no frame

    inputs = found.table.inputs
    n_products = len(found.table.catalogue.products)
    catalogue = with_published_reasons(found.table.catalogue, found.form)
    columns: dict[str, Any] = {}
    for measure in found.form.measures:
        if measure.name in inputs.values:
            columns[f"{measure.name}.value"] = np.broadcast_to(inputs.values[measure.name][0], n_products)
            columns[f"{measure.name}.state"] = [STATES[State(state)] for state in inputs.states[measure.name].tolist()]
            columns[f"{measure.name}.repeats"] = _repeats(catalogue, measure.name)
    scores = score_frame(found.table, found.asked.settings, beside=columns)
    first = 1 + len(attribute_columns(found.table, ()))
    return pd.concat(
        [scores.iloc[:, :first], pd.DataFrame(columns, index=scores.index), scores.iloc[:, first:]], axis=1
    )


def _repeats(catalogue: Catalogue, measure: str) -> list[str]:
    """The repeats of each product as their cells have them: 2.44 in; 2.5 in."""
    readings = catalogue.readings.get(measure)
    if readings is None:
        return [""] * len(catalogue.products)
    repeats = range(readings.marks.shape[1])
    rows = ([readings.as_written(product, repeat) for repeat in repeats] for product in range(len(readings.marks)))
    return ["; ".join(text for text in row if text) for row in rows]


#: What a reading says, then what was made of it.
REPEATS_COLUMNS = ("measure", "repeat", "as_read", "unit_as_read", "flag", "reason", "value", "unit", "counts_as")


def repeats_frame(found: Workings) -> pd.DataFrame:
    """One row a reading: as its cell has it, in the formula's unit, and what it counts as by the reporting limit.

    Who read it, when, and under which conditions is left out: an appendix publishes what figures follow from.
    """
    catalogue = with_published_reasons(found.table.catalogue, found.form)
    return catalogue.frame()[list(REPEATS_COLUMNS)].reset_index()
