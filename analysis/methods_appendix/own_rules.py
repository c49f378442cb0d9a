"""What a rating or score says of its own places and bands, in words; nothing where those of the formula hold."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.languages.facts import Run, Runs
from analysis.languages.writing import code, listed_runs, name, runs
from analysis.methods_appendix.rules import condition_in_words, ranks_in_words
from scoring.form import NO_BAND, Band, Form, Output


def own_rules_in_words(form: Form, output: Output) -> Iterator[Runs]:
    """The rule of its places, its bands, and where it may jump."""
    if output.jumps is not None:
        said = "It may jump where a condition of its expression compares a name with a written number ["
        yield runs(said, code(output.jumps.address), "].")
    if output.ranks != form.ranks:
        yield ranks_in_words(output.ranks)
    chosen = output.bands.chosen
    if output.bands.edges and not output.bands.inherited:
        edges = [_edge(band) for band in reversed(output.bands.edges)]
        said = "Bands of its own, each from its lower edge up to the next: "
        yield runs(said, *(run for index, edge in enumerate(edges) for run in _joined(edge, index)), ".")
    elif chosen is not None and not output.bands.edges:
        yield runs("It has no bands [", code(chosen.address), "].")
    yield from band_limits_in_words(form, output)


def band_limits_in_words(form: Form, output: Output) -> Iterator[Runs]:
    """Every limit of its bands, a sentence each."""
    for limit in output.band_limits:
        best = limit.no_better_than
        given = runs("no band") if best.value == NO_BAND else runs("no band better than ", name(best.value))
        where = condition_in_words(limit.when, form)
        numbers = [code(number.address) for number in limit.when.numbers]
        addresses = listed_runs([*numbers, code(best.address)], ", ")
        said = ", whatever its figure says, and also where what says so is missing; figure and place stay ["
        yield runs("Where ", *where, ", ", name(output.label), " has ", *given, said, *addresses, "].")


def _edge(band: Band) -> Runs:
    return runs(name(band.name), f" from {band.edge.text} [", code(band.edge.address), "]")


def _joined(edge: Runs, index: int) -> Runs:
    return (Run(", "), *edge) if index else edge
