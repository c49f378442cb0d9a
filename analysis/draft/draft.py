"""The text of a first formula. Every guess in it is marked as one, with what it rests on."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from analysis.draft.columns import CatalogueColumns, MeasuredColumn
from analysis.draft.guesses import Guess, anchors_of, better_of, name_of, plausible_of
from analysis.draft.marked import MARK, marked, printable, written
from scoring.blends import DEFAULT
from scoring.units.conversion import is_offset_unit

#: Words for a difference of two readings.
_RISE = frozenset({"rise", "change", "difference", "delta", "gain", "fall", "increase"})
#: A column's name that does as a measure's.
_NAME = re.compile(r"[a-z_][a-z0-9_]{0,59}")

HEAD = """\
# A first draft, written from the columns of {source} by `steelyard new`.
# What follows `guess:` was not known: look at each, change it, and take the mark away.
"""


def draft_formula(columns: CatalogueColumns, name: str, source: str) -> str:
    """A formula of one rating a measure and one score of all, as YAML.

    Parameters
    ----------
    columns : what the catalogue holds
    name : of the formula, letters, digits and _
    source : the catalogue's name, for the first line
    """
    drafts = drafts_of(columns)
    lines = [HEAD.format(source=printable(source))]
    lines += [
        f"formula: {name}",
        "version: 0.1.0",
        f"title: {written(name.replace('_', ' ').capitalize() + ', first draft')}",
    ]
    if not columns.by_rule:
        products = Guess(written(columns.products), "the column that names the products")
        lines.append(_marked("", "product_column", products))
    lines += ["", "scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}", ""]
    lines += _attributes(columns)
    lines += ["measures:", *(line for one in drafts for line in _measure(one.measure, one.column)), ""]
    lines += ["ratings:", *(line for one in drafts for line in _rating(one)), ""]
    lines += _score(drafts)
    lines += ["", *_words(columns)]
    return "\n".join(lines).rstrip() + "\n"


@dataclass(frozen=True, slots=True, eq=False)
class MeasureDraft:
    """A measure and the rating made of it, by their names, and the column that they come from."""

    measure: str
    rating: str
    column: MeasuredColumn


def drafts_of(columns: CatalogueColumns) -> list[MeasureDraft]:
    """Names for every measure and its rating, none twice."""
    taken = {name for name, _, _ in columns.attributes}
    drafts = []
    for column in columns.measures:
        is_name = _NAME.fullmatch(column.column) and not (column.by_recipe and column.column in taken)
        measure = column.column if is_name else name_of(_with_unit(column), taken)
        taken.add(measure)
        rating = name_of(column.words, ())
        rating = name_of(f"{column.words} rating", taken) if rating in taken else rating
        taken.add(rating)
        drafts.append(MeasureDraft(measure, rating, column))
    return drafts


def _attributes(columns: CatalogueColumns) -> Iterator[str]:
    if columns.attributes:
        yield "attributes:"
        for name, declared, because in columns.attributes:
            yield marked(f"  {name}: {declared}", because)
        yield ""


def _measure(name: str, column: MeasuredColumn) -> Iterator[str]:
    yield f"  {name}:"
    yield f"    label: {written(_label(column))}"
    if column.column != name and not column.by_recipe:
        yield f"    column: {written(column.column)}"
    unit = unit_of(column)
    is_known = column.stated and not column.look
    yield f"    unit: {unit.value}" if is_known else _marked("    ", "unit", unit)
    yield _marked("    ", "better", better_of(column.words))
    yield _marked("    ", "plausible", plausible_of(column))
    if column.repeats > 1:
        pooled = Guess("pooled", f"from the scatter of {column.repeats} repeats; better from a study of your own")
        yield _marked("    ", "repeatability", pooled)
    else:
        yield "    # repeatability: how far one reading scatters, in the unit; single readings cannot say"
    if column.below:
        yield "    # reporting_limit: the least that the instrument reads; some cells say that they are below it"


def unit_of(column: MeasuredColumn) -> Guess:
    """The unit as YAML; a rise or a difference in degC is one of two temperatures, which is no temperature."""
    if not column.unit:
        return Guess('"1"', "no unit in the column's name; 1 is a plain number")
    if not column.stated and is_offset_unit(column.unit) and _RISE & set(re.split(r"[\W_]+", column.words.casefold())):
        scale = "F" if "F" in column.unit else "C"
        return Guess(f"delta_deg{scale}", f"{column.unit} in its name, and a rise is a difference of two temperatures")
    return Guess(written(column.unit), column.look or "stands in the column's name")


def _rating(draft: MeasureDraft) -> Iterator[str]:
    column = draft.column
    yield f"  {draft.rating}:"
    yield f"    label: {written(_label(column))}"
    yield f"    measure: {draft.measure}"
    yield _marked("    ", "curve", anchors_of(column, better_of(column.words).value))


def _score(drafts: list[MeasureDraft]) -> Iterator[str]:
    name = name_of("overall", {name for one in drafts for name in (one.measure, one.rating)})
    yield "scores:"
    yield f"  {name}:"
    yield "    label: Overall"
    yield _marked("    ", "blend", Guess(DEFAULT, "a weak part is made good by the others"))
    yield f"    weights:                                        {MARK} all alike; shares, which need not add up to one"
    for one in drafts:
        line = f"      {one.rating}: 1"
        yield marked(line, "a price; take it out if the score is of the bench alone") if one.column.is_price else line
    yield _marked("    ", "missing", Guess("{absent_above: 0}", "no score where any part is missing"))


def _words(columns: CatalogueColumns) -> Iterator[str]:
    if columns.words:
        yield "# Columns of words, left out of every result (declare one under `attributes` to publish it):"
        yield f"# {', '.join(map(printable, columns.words))}"


def _with_unit(column: MeasuredColumn) -> str:
    return f"{column.words} {column.unit.replace('%', 'percent')}"


def _label(column: MeasuredColumn) -> str:
    text = re.sub(r"[_\s]+", " ", column.words).strip()
    return text[:1].upper() + text[1:]


def _marked(indent: str, key: str, guess: Guess) -> str:
    return marked(f"{indent}{key}: {guess.value}", guess.because)
