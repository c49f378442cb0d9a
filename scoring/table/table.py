"""The score table: values, shown figures, ranks, bands, statuses and remarks of every product."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue import Catalogue, State, as_declared
from scoring.catalogue.repeats import NO_REASON
from scoring.curves import KINDS
from scoring.curves.kind import ERROR
from scoring.errors import Place, Problem, ScoringError
from scoring.form import ENDS, Curve, Form, Output
from scoring.measurement_error import ErrorModel, error_model
from scoring.numbers.array_types import Array, Indices, Integers, Texts
from scoring.numbers.arrays import compared
from scoring.numbers.ranks import rank
from scoring.numbers.rounding import round_to, show
from scoring.program.program import Program, compile_form
from scoring.table.bands import Banded, banded
from scoring.table.classes import Classes, InClass, classes_of, places_within
from scoring.table.deciding import deciders_of
from scoring.table.evaluate import Evaluation, Inputs, evaluate, inputs_of, kernel_for
from scoring.table.frames import output_frame, readings_frame, table_frame
from scoring.table.gates import Passage, pass_gates
from scoring.table.missing import Standing
from scoring.table.selection import Selected
from scoring.table.table_html import table_html
from scoring.table.undefined import Lack, lack_of

if TYPE_CHECKING:
    import pandas as pd

STATUSES = ("rated", "partial", "unrated", "not applicable", "withheld")
WITHHELD = STATUSES.index("withheld")
#: The status of a product outside the part of a catalogue that a table is of; it is published nowhere.
NOT_SELECTED, OUTSIDE = len(STATUSES), "not selected"
MOST_NAMED = 20
#: What is said beside a total that is not given, where the formula says nothing of what does not apply; {} is its blend.
NOT_SAID = "no {} without it, unless the formula says `missing: {{not_applicable: left out}}`, or `reweight`"
#: Why there is no value where an expression says `none`.
GIVES_NONE = "its expression gives no value there"
#: How far beyond its scale a value may lie before it is a fault: the dust of binary arithmetic.
OFF_SCALE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """One rating or score of every product. Arrays of shape (products,); NaN where nothing is published.

    value is unrounded; shown is rounded as the scale says; status indexes `STATUSES`, or is `NOT_SELECTED`; band indexes the
    bands of the output, -1 for none; remarks are by product index, for the products that have any; within: places within
    classes, None where the formula counts none; banded: how the bands came about.
    """

    output: Output
    value: Array
    shown: Array
    status: NDArray[np.uint8]
    rank: Array
    band: Integers
    remarks: Mapping[int, tuple[str, ...]]
    banded: Banded
    within: InClass | None = None

    def shown_text(self, product: int) -> str:
        """The figure as it is printed, "" where there is none."""
        value = float(self.shown[product])
        return "" if np.isnan(value) else show(value, self.output.scale.show.step.value)

    def status_text(self, product: int) -> str:
        """The status as a word."""
        return (*STATUSES, OUTSIDE)[int(self.status[product])]


@dataclass(frozen=True, eq=False)
class ScoreTable:
    """Ratings and scores of a catalogue under a formula.

    program: the formula's, with the kernels that were compiled for the table; settings: the values that were tried on it;
    selected: the part of the catalogue that the columns are of, None for all of it. What decided its figures is found when it
    is asked for, and kept with the table (so that it has no slots).
    """

    program: Program
    catalogue: Catalogue
    inputs: Inputs
    errors: ErrorModel
    evaluation: Evaluation
    passages: tuple[Passage, ...]
    ratings: tuple[Column, ...]
    scores: tuple[Column, ...]
    settings: tuple[str, ...] = ()
    selected: Selected | None = None

    @property
    def form(self) -> Form:
        """The formula that it was scored under."""
        return self.program.form

    @property
    def rows(self) -> Indices:
        """The products that the table is of, by their places in the catalogue, shape (n,)."""
        return np.arange(len(self.catalogue.products)) if self.selected is None else self.selected.rows

    @property
    def counted(self) -> str:
        """How many products it is of: 60, or 14 of 60."""
        n_products = len(self.catalogue.products)
        return f"{n_products}" if self.selected is None else f"{self.selected.count} of {n_products}"

    @property
    def uncertainty(self) -> Mapping[str, Array]:
        """The standard uncertainty of each summarised reading, measure -> shape (products,); NaN where nothing is known of it."""
        return self.errors.u

    @cached_property
    def deciders(self) -> Mapping[str, Texts]:
        """Of each rating and score that one part or a limit alone can decide: what did, a tuple of words a product.

        Arrays of shape (products,); no word where nothing is published, or no one thing decided.
        """
        return deciders_of(self.program, self.inputs, self.evaluation)

    def decided_by(self, column: Column, product: int) -> tuple[str, ...]:
        """The parts that are the figure, or the limit that moved it last; none where that is nothing in particular."""
        found = self.deciders.get(column.output.name)
        return () if found is None or np.isnan(column.value[product]) else tuple(found[product])

    def column(self, name: str) -> Column:
        """The rating or score called `name`."""
        return next(column for column in self.ratings + self.scores if column.output.name == name)

    def band_name(self, column: Column, product: int) -> str:
        """The band's name, "" where there is none."""
        index = int(column.band[product])
        return column.output.bands.edges[index].name if index >= 0 else ""

    def frame(self, name: str | None = None) -> pd.DataFrame:
        """A row a product, index the ids; NaN where nothing is published; units and origin in `attrs`.

        name : one rating or score: columns value, shown, status, and for a score rank, band, remarks. By default all of
            them, as `NAME.value`, `NAME.shown` and so on, after the products' attributes.

        Raises
        ------
        AddressError : there is no such rating or score
        """
        return table_frame(self) if name is None else output_frame(self, name)

    def readings_frame(self) -> pd.DataFrame:
        """The summarised readings: `MEASURE`, `MEASURE.flag`, `MEASURE.uncertainty` (standard), units in `attrs`."""
        return readings_frame(self)

    def __repr__(self) -> str:
        return f"<ScoreTable of {self.form.name} {self.form.version}: {self.counted} products>"

    def _repr_html_(self) -> str:
        return table_html(self)


def score_catalogue(form: Form, catalogue: Catalogue, program: Program | None = None) -> ScoreTable:
    """The score table of a catalogue.

    Raises
    ------
    FormulaError, CatalogueError, ScoringError : the formula goes round in a circle; a gate lacks what it needs; a reading
        lies outside a curve that says `outside: error`; or a value that should be there is infinite or not a number
    """
    program = program or compile_form(form)
    catalogue = as_declared(catalogue, form)
    inputs = inputs_of(form, catalogue)
    check_domains(form, inputs.products, inputs.values, catalogue)
    evaluation = evaluate(kernel_for(program, inputs), inputs)
    check_domains(form, inputs.products, evaluation.values, catalogue)
    check_finite(program, inputs, evaluation)
    errors = error_model(form, catalogue)
    passages = pass_gates(program, inputs, evaluation, errors.u)
    worked = _Worked(form, catalogue, inputs, evaluation, passages)
    ratings = tuple(_column(worked, output) for output in form.ratings)
    scores = tuple(_column(worked, output) for output in form.scores)
    return ScoreTable(program, catalogue, inputs, errors, evaluation, passages, ratings, scores)


def check_domains(
    form: Form, products: Sequence[str], values: Mapping[str, Array], catalogue: Catalogue | None = None
) -> None:
    """Readings, or ratings, outside a curve that says `outside: error` are problems, each named.

    values : name -> shape (1, products)
    """
    problems = []
    for source, curve in counting_curves(form):
        ends = KINDS[curve.kind].ends
        if ends is None or all(choice.value != ERROR for choice in curve.outside) or source not in values:
            continue
        (low, high), (least, most) = ends(curve), KINDS[curve.kind].refused_beyond(curve)
        found = values[source][0]
        is_outside = (compared(found, "<", least) == 1) | (compared(found, ">", most) == 1)
        for product in np.flatnonzero(is_outside).tolist():
            place = Place(f"the catalogue, product {products[product]}", column_name=source)
            if catalogue is not None and source in catalogue.readings:
                place = catalogue.readings[source].place(product, 0)
            expected = f"{low.text} to {high.text}, the anchors of {curve.address} ({_refusal(curve)})"
            problems.append(Problem(place, f"{found[product]:g} for {source} of {products[product]}", expected))
    if problems:
        raise ScoringError(problems)


def _refusal(curve: Curve) -> str:
    """What a curve says that refuses readings beyond its anchors."""
    refused = [end for end, choice in zip(ENDS, curve.outside, strict=True) if choice.value == ERROR]
    ends = ", ".join(f"{end}: {ERROR}" for end in refused)
    return f"which says `outside: {ERROR if len(refused) == len(ENDS) else '{' + ends + '}'}`"


def counting_curves(form: Form) -> Iterator[tuple[str, Curve]]:
    """Every curve of a form that counts, with the name of what goes into it."""
    for output in form.outputs:
        yield from ((part.source, part.curve) for part in output.parts if part.curve is not None)
        for limit in output.limits:
            if limit.curve is not None and limit.on is not None and limit.apply.value == "always":
                yield limit.on, limit.curve


def check_finite(program: Program, inputs: Inputs, evaluation: Evaluation) -> None:
    """A value that is infinite, not a number, or off the scale is a problem; nothing of the table is published."""
    problems = []
    for output in program.form.outputs:
        values = evaluation.values[output.name][0]
        there = np.broadcast_to(evaluation.presence.here[output.name][0], values.shape)
        low, high = output.scale.low.value, output.scale.high.value if output.scale.high is not None else np.inf
        fits = np.isfinite(values) & (values >= low - OFF_SCALE) & (values <= high + OFF_SCALE)
        bad = np.flatnonzero(there & ~fits)
        for product in bad[:MOST_NAMED].tolist():
            problems.append(_unfit(program, inputs, output, product, float(values[product])))
        if len(bad) > MOST_NAMED:
            problems.append(
                Problem(output.place, f"{len(bad) - MOST_NAMED} more such products", "numbers on the scale")
            )
    if problems:
        raise ScoringError(problems)


def _unfit(program: Program, inputs: Inputs, output: Output, product: int, value: float) -> Problem:
    """One value that cannot be published, and what to do about it."""
    top = f"to {output.scale.high.text}" if output.scale.high is not None else "up"
    expected = f"a number from {output.scale.low.text} {top}"
    named = f"{output.name} of {inputs.products[product]}"
    sources = ", ".join(output.sources) or output.name
    if np.isnan(value):
        lack = lack_of(program, inputs, product, output.name)
        found = f"{named} has no value" + (f": {lack}" if lack is not None else "")
        return Problem(output.place, found, expected, _advice(program.form, lack, sources))
    hint = f"Look at {sources}; hold the value with clamp(...), or give {output.name} a `scale` of its own."
    return Problem(output.place, f"{named} is {f'{value:.6g}' if np.isfinite(value) else 'infinite'}", expected, hint)


def _advice(form: Form, lack: Lack | None, sources: str) -> str:
    """What may be done about a value that is lost: in an expression or a limit another word, in a curve another population."""
    leaning = None if lack is None else _leaning_at(form, lack.address)
    if leaning is None:
        return f"Look at {sources}; say what holds there, as in where(b > 0, a / b, 0), or mark the reading as missing."
    source, curve = leaning
    if KINDS[curve.kind].ratio_scaled:
        return f"A ratio needs {source} above 0: leave the product out, or take another curve."
    return f"Freeze a `reference` of products that differ in {source}, or take another curve."


def _leaning_at(form: Form, address: str) -> tuple[str, Curve] | None:
    """The curve that leans on a reference population at the address of a part or limit, and what goes into it."""
    for output in form.outputs:
        curves = [(part.address, part.source, part.curve) for part in output.parts]
        curves += [(limit.address, limit.on or "", limit.curve) for limit in output.limits]
        for stands_at, source, curve in curves:
            if stands_at == address and curve is not None and curve.reference is not None:
                return source, curve
    return None


@dataclass(frozen=True, slots=True, eq=False)
class _Worked:
    """What the columns of a table are made of: all that was worked out, and what the gates said of it."""

    form: Form
    catalogue: Catalogue
    inputs: Inputs
    evaluation: Evaluation
    passages: tuple[Passage, ...]

    @property
    def n_products(self) -> int:
        return len(self.inputs.products)

    def gates_of(self, output: Output) -> list[Passage]:
        """The gates that a rating or score passes: gates withhold scores, or the ratings of a form that has none."""
        if output.section != ("scores" if self.form.scores else "ratings"):
            return []
        return [passage for passage in self.passages if not passage.gate.scores or output.name in passage.gate.scores]

    def below_limit(self, source: str) -> list[int]:
        """The products whose reading of a measure counts as below its reporting limit; none of a rating."""
        states = self.inputs.states.get(source)
        return [] if states is None else np.flatnonzero(states == State.BELOW).tolist()


def _column(worked: _Worked, output: Output) -> Column:
    """One rating or score of every product."""
    form, evaluation = worked.form, worked.evaluation
    classes = classes_of(form, output, worked.catalogue)
    status = np.array(np.broadcast_to(evaluation.presence.standing[output.name][0], worked.n_products))
    value = np.array(evaluation.values[output.name][0])
    gates = worked.gates_of(output)
    for passage in gates:
        status[passage.withheld & (status <= Standing.UNRATED)] = WITHHELD
    value[status == WITHHELD] = np.nan
    rule = output.scale.show
    shown = round_to(value, rule.step.value, rule.rule.value)
    judged = shown if form.bands_on.value == "shown" else value
    found = banded(output, judged[np.newaxis], evaluation).first()
    return Column(
        output=output,
        value=value,
        shown=shown,
        status=status,
        rank=places_in(output, value, shown),
        band=found.band,
        remarks=_remarks(worked, output, gates, found),
        banded=found,
        within=None if classes is None else within_classes(output, classes, value, shown),
    )


def places_in(output: Output, value: Array, shown: Array) -> Array:
    """The place of each product as an output ranks them, shape (products,) as the values; NaN where there is none."""
    return _places(output, _ranked(output, value, shown))


def within_classes(output: Output, classes: Classes, value: Array, shown: Array) -> InClass:
    """The same within each class."""
    return places_within(classes, _ranked(output, value, shown), partial(_places, output))


def _ranked(output: Output, value: Array, shown: Array) -> Array:
    return shown if output.ranks.on.value == "shown" else value


def _places(output: Output, ranked: Array) -> Array:
    return rank(ranked, output.ranks.best.value, output.ranks.ties.value)


def _remarks(worked: _Worked, output: Output, gates: list[Passage], bands: Banded) -> dict[int, tuple[str, ...]]:
    """Gates' remarks, then why a band is lower than the figure's, what is missing and what counts at the reporting limit."""
    said: dict[int, list[str]] = {}
    for passage in gates:
        for product, remark in enumerate(passage.remarks):
            if remark:
                said.setdefault(product, []).append(remark)
    for product in np.flatnonzero(bands.by >= 0).tolist():
        limit = output.band_limits[bands.by[product]]
        said.setdefault(product, []).append(limit.says(known=bool(bands.known[product])))
    presence, n_products = worked.evaluation.presence, worked.n_products
    if output.name in presence.none:
        for product in np.flatnonzero(presence.none[output.name][0]).tolist():
            said.setdefault(product, []).append(GIVES_NONE)
    asked: dict[int, str] = {}
    for source in _weighed(output):
        if source not in presence.here:
            continue
        there = np.broadcast_to(presence.here[source][0], n_products)
        fits = np.broadcast_to(presence.applies[source][0], n_products)
        if output.missing.is_unsaid_of_a_total and output.blend is not None:
            for product in np.flatnonzero(~fits).tolist():
                asked.setdefault(product, NOT_SAID.format(output.blend.value))
        for product in np.flatnonzero(~there).tolist():
            word = "is missing" if fits[product] else "does not apply"
            said.setdefault(product, []).append(f"{source} {word}{_why(worked, source, product)}")
        if source in presence.standing:
            part = np.broadcast_to(presence.standing[source][0], n_products) == Standing.PARTIAL
            for product in np.flatnonzero(part).tolist():
                said.setdefault(product, []).append(f"{source} is itself partial")
        for product in worked.below_limit(source):
            said.setdefault(product, []).append(f"{source} has readings below the reporting limit")
    for product, advice in asked.items():
        said.setdefault(product, []).append(advice)
    return {product: tuple(remarks) for product, remarks in said.items()}


def _why(worked: _Worked, source: str, product: int) -> str:
    """Why a source is missing: its expression gives none, or what the catalogue says of it or of the measures of a rating."""
    form, inputs = worked.form, worked.inputs
    none = worked.evaluation.presence.none.get(source)
    if none is not None and none[0, product]:
        return f" ({GIVES_NONE})"
    outputs = form.outputs_by_name
    measures = [source] if source not in outputs else [name for name in outputs[source].sources if name not in outputs]
    reasons = [
        f"{name}: {inputs.reasons[name][product]}"
        for name in measures
        if inputs.reasons.get(name, {}).get(product, NO_REASON) != NO_REASON
    ]
    return f" ({'; '.join(reasons)})" if reasons else ""


def _weighed(output: Output) -> tuple[str, ...]:
    """The sources that carry weight: the parts, or an expression's names."""
    names = [part.source for part in output.parts] + list(output.value.names if output.value else ())
    return tuple(dict.fromkeys(names))
