"""Reading which errors of measures that are read in one run go together, and whether any errors can do so."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

import numpy as np

from scoring.errors import Place, nearest
from scoring.form import ERROR_COMPONENTS, ERROR_CORRELATION, Choice, ErrorCorrelation, Measure, Number
from scoring.reader.declared import made, named_nouns, read_key
from scoring.reader.fields import Fields, Reader
from scoring.reader.wording import clip
from scoring.texts.document import Node, Scalar
from scoring.texts.document import Sequence as Items
from scoring.texts.source import Spot

COMPONENTS = tuple(ERROR_COMPONENTS)
POOLED = ("pooled",)
#: An eigenvalue this little below 0 is the dust of binary sums, as of three measures that are all correlated 1.
DUST = 1e-9


def read_error_correlations(
    reader: Reader, node: Node | None, measures: Sequence[Measure]
) -> Iterator[ErrorCorrelation]:
    """Every correlation under `error_correlations`."""
    by_name = {measure.name: measure for measure in measures}
    for name, fields in named_nouns(reader, node, "error_correlations", ERROR_CORRELATION):
        component: Choice = read_key(ERROR_CORRELATION.fields["component"], fields)
        named = _measures(fields, component.value, by_name)
        coefficient, estimated = _coefficient(fields, component.value)
        given = {"component": component, "measures": named, "coefficient": coefficient, "estimated": estimated}
        found = made(ERROR_CORRELATION, fields, name=name, **given)
        if found is not None and len(named) > 1 and (coefficient is not None or estimated is not None):
            yield found


def _measures(fields: Fields, component: str, measures: Mapping[str, Measure]) -> tuple[str, ...]:
    """The measures that are correlated: known ones, each once, that say something of the component."""
    reader, address = fields.reader, fields.path("measures")
    node = fields.required("measures", ERROR_CORRELATION.keys["measures"].hint)
    items = reader.items(node, address, "measures")
    named: list[str] = []
    for item in items:
        name = reader.text(item, address)
        if name not in measures:
            reader.fault(item.place, f"`{clip(name)}` in {address}", "a measure", nearest(name, measures))
        elif name in named:
            reader.fault(item.place, f"`{name}` again in {address}", "each measure once")
        elif not measures[name].declares(component):
            found = f"`{name}` in {address}, which declares no `{component}`"
            hint = f"Write `{component}: ...` under {measures[name].address}, or leave `{name}` out here."
            reader.fault(item.place, found, "measures that declare the component that is correlated", hint)
        named.append(name)
    if isinstance(node, Items) and len(items) < 2:
        count = "one measure" if items else "no measure"
        reader.fault(node.place, f"{count} in {address}", "two or more")
    return tuple(dict.fromkeys(named))


def _coefficient(fields: Fields, component: str) -> tuple[Number | None, Choice | None]:
    reader, address = fields.reader, fields.path("coefficient")
    node = fields.required("coefficient", ERROR_CORRELATION.keys["coefficient"].hint)
    if not isinstance(node, Scalar) or node.quoted or not node.text.isalpha():
        return reader.number(node, address, least=-1, most=1), None
    if node.text not in POOLED:
        hint = nearest(node.text, POOLED)
        expected = "a number from -1 to 1, or `pooled`"
        reader.fault(node.place, f"`{clip(node.text)}` for {address}", expected, hint * hint.startswith("Did you mean"))
        return None, None
    if component != COMPONENTS[0]:
        hint = "State the coefficient; only repeats of one run show how their errors go together."
        reader.fault(node.place, f"`pooled` for {address}, of the component {component}", "a number from -1 to 1", hint)
        return None, None
    return None, Choice(node.text, POOLED, address, node.place, Spot(reader.source, node.start, node.end))


def check_error_correlations(reader: Reader, correlations: Sequence[ErrorCorrelation]) -> None:
    """A fault for each name and each pair that is said twice, and for coefficients that no errors can have."""
    taken: set[str] = set()
    for one in correlations:
        if one.name in taken:
            found = f"the correlation `{one.name}` again, which the formula takes from its neighbour"
            reader.fault(one.place, found, "a name that means one thing")
        taken.add(one.name)
    for component in COMPONENTS:
        of_it = [one for one in correlations if one.component.value == component]
        if _pairs_are_said_once(reader, of_it):
            for block in _blocks(of_it):
                _check_block(reader, component, block)


def _pairs_are_said_once(reader: Reader, correlations: Sequence[ErrorCorrelation]) -> bool:
    said: dict[frozenset[str], str] = {}
    once = True
    for one in correlations:
        for pair in combinations(one.measures, 2):
            first = said.setdefault(frozenset(pair), one.name)
            if first != one.name:
                found = f"{pair[0]} with {pair[1]} in {one.address}, as in error_correlations.{first}"
                reader.fault(one.place, found, f"each pair once for the component {one.component.value}")
                once = False
    return once


def _blocks(correlations: Sequence[ErrorCorrelation]) -> list[list[ErrorCorrelation]]:
    """The correlations in groups that share no measure."""
    blocks: list[list[ErrorCorrelation]] = []
    for one in correlations:
        touched = [block for block in blocks if any(set(one.measures) & set(other.measures) for other in block)]
        blocks = [block for block in blocks if block not in touched]
        blocks.append([other for block in touched for other in block] + [one])
    return blocks


def _check_block(reader: Reader, component: str, block: Sequence[ErrorCorrelation]) -> None:
    """A fault where the matrix of the stated coefficients has an eigenvalue below 0; what is estimated is seen later."""
    names = list(dict.fromkeys(name for one in block for name in one.measures))
    stated = {pair: one for one in block for pair in combinations(one.measures, 2)}
    if any(one.coefficient is None for one in block):
        return
    matrix = np.eye(len(names))
    for (first, second), one in stated.items():
        assert one.coefficient is not None  # seen above
        i, j = names.index(first), names.index(second)
        matrix[i, j] = matrix[j, i] = one.coefficient.value
    least = float(np.linalg.eigvalsh(matrix)[0])
    if least >= -DUST:
        return
    said = ", ".join(f"{a} with {b} {one.coefficient.text}" for (a, b), one in stated.items() if one.coefficient)
    unsaid = [f"{a} with {b}" for a, b in combinations(names, 2) if (a, b) not in stated and (b, a) not in stated]
    factor = np.floor(1000 / (1 - least)) / 1000  # 1 + t (least - 1) is the least eigenvalue of coefficients times t
    hint = f"Multiply each by {factor:g} or less"
    hint += f", or say how {unsaid[0]} goes: a pair that is not named counts as 0." if unsaid else "."
    found = f"correlations that no errors can have ({component}: {said}; an eigenvalue of {least:.3g})"
    reader.fault(_place(block), found, "coefficients that make a covariance, with no eigenvalue below 0", hint)


def _place(block: Sequence[ErrorCorrelation]) -> Place:
    last = block[-1]
    return last.coefficient.place if last.coefficient is not None else last.place
