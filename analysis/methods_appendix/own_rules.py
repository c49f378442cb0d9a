"""What a rating or score says of its own places and bands, in words; nothing where those of the formula hold."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.languages.facts import Run, Runs
from analysis.languages.writing import code, name, runs
from analysis.methods_appendix.rules import ranks_in_words
from scoring.form import Band, Form, Output


def own_rules_in_words(form: Form, output: Output) -> Iterator[Runs]:
    """The rule of its places, and its bands."""
    if output.ranks != form.ranks:
        yield ranks_in_words(output.ranks)
    chosen = output.bands.chosen
    if chosen is None:
        return
    if output.bands.edges and not output.bands.inherited:
        edges = [_edge(band) for band in reversed(output.bands.edges)]
        said = "Bands of its own, each from its lower edge up to the next: "
        yield runs(said, *(run for index, edge in enumerate(edges) for run in _joined(edge, index)), ".")
    elif not output.bands.edges:
        yield runs("It has no bands [", code(chosen.address), "].")


def _edge(band: Band) -> Runs:
    return runs(name(band.name), f" from {band.edge.text} [", code(band.edge.address), "]")


def _joined(edge: Runs, index: int) -> Runs:
    return (Run(", "), *edge) if index else edge
