"""The text of a first formula. Every guess in it is marked as one, with what it rests on."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

from analysis.draft.columns import CatalogueColumns, MeasuredColumn
from analysis.draft.guesses import Guess, anchors_of, better_of, name_of, plausible_of
from scoring.blends import DEFAULT
from scoring.units.conversion import is_offset_unit

#: A word that YAML takes as it stands, and that means nothing else there.
_BARE = re.compile(r"[A-Za-z][A-Za-z0-9]*(?:[ _./-]?[A-Za-z0-9]+)*")
_NOT_BARE = frozenset({"null", "true", "false", "yes", "no", "on", "off"})
#: Words for a difference of two readings.
_RISE = frozenset({"rise", "change", "difference", "delta", "gain", "fall", "increase"})
#: A column's name that does as a measure's.
_NAME = re.compile(r"[a-z_][a-z0-9_]{0,59}")
#: Where the marks of guesses stand, if the line before them is no longer.
MARK_AT = 52

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
    lines = [HEAD.format(source=_printable(source))]
    lines += [
        f"formula: {name}",
        "version: 0.1.0",
        f"title: {written(name.replace('_', ' ').capitalize() + ', first draft')}",
    ]
    if not columns.by_rule:
        products = Guess(written(columns.products), "the column that names the products")
        lines.append(_marked("", "product_column", products))
    lines += ["", "scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}", ""]
    taken: set[str] = set()
    named = []
    for column in columns.measures:
        measure = column.column if _NAME.fullmatch(column.column) else name_of(_with_unit(column), taken)
        taken.add(measure)
        rating = name_of(column.words, ())
        rating = name_of(f"{column.words} rating", taken) if rating in taken else rating
        taken.add(rating)
        named.append((measure, rating, column))
    lines += ["measures:", *(line for measure, _, column in named for line in _measure(measure, column)), ""]
    lines += ["ratings:", *(line for measure, rating, column in named for line in _rating(measure, rating, column)), ""]
    lines += _score([rating for _, rating, _ in named], taken)
    lines += ["", *_words(columns)]
    return "\n".join(lines).rstrip() + "\n"


def guesses_in(text: str) -> int:
    """How many guesses a draft marks."""
    return sum("# guess:" in line for line in text.splitlines())


def written(text: str) -> str:
    """A text as YAML writes it: bare where that is safe, else in double quotes."""
    bare = _BARE.fullmatch(text) and text.casefold() not in _NOT_BARE
    return text if bare else json.dumps(text, ensure_ascii=False)


def _measure(name: str, column: MeasuredColumn) -> Iterator[str]:
    yield f"  {name}:"
    yield f"    label: {written(_label(column))}"
    if column.column != name:
        yield f"    column: {written(column.column)}"
    unit = unit_of(column)
    yield f"    unit: {unit.value}" if column.stated else _marked("    ", "unit", unit)
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
    return Guess(written(column.unit), "stands in the column's name")


def _rating(measure: str, rating: str, column: MeasuredColumn) -> Iterator[str]:
    yield f"  {rating}:"
    yield f"    label: {written(_label(column))}"
    yield f"    measure: {measure}"
    yield _marked("    ", "curve", anchors_of(column, better_of(column.words).value))


def _score(ratings: list[str], taken: set[str]) -> Iterator[str]:
    name = name_of("overall", taken)
    yield "scores:"
    yield f"  {name}:"
    yield "    label: Overall"
    yield _marked("    ", "blend", Guess(DEFAULT, "a weak part is made good by the others"))
    yield "    weights:                                        # guess: all alike; shares, which need not add up to one"
    yield from (f"      {rating}: 1" for rating in ratings)
    yield _marked("    ", "missing", Guess("{absent_above: 0}", "no score where any part is missing"))


def _words(columns: CatalogueColumns) -> Iterator[str]:
    if columns.words:
        yield "# Columns of words, left out of every result (declare one under `attributes` to publish it):"
        yield f"# {', '.join(map(_printable, columns.words))}"


def _with_unit(column: MeasuredColumn) -> str:
    return f"{column.words} {column.unit.replace('%', 'percent')}"


def _label(column: MeasuredColumn) -> str:
    text = re.sub(r"[_\s]+", " ", column.words).strip()
    return text[:1].upper() + text[1:]


def _marked(indent: str, key: str, guess: Guess) -> str:
    line = f"{indent}{key}: {guess.value}"
    return f"{line:<{MARK_AT}}# guess: {guess.because}" if len(line) < MARK_AT else f"{line}  # guess: {guess.because}"


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text)
