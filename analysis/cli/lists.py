"""Lists of a formula that are there to be copied: its addresses, and a catalogue's figures to freeze beside its curves."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from analysis.cli.terminal import print_json, print_table, say
from scoring.addresses.addresses import addresses, figures_or_words, written
from scoring.catalogue import read_catalogue
from scoring.curves import KINDS
from scoring.errors import CatalogueError, Place, Problem
from scoring.form import Curve, ErrorComponent, Expression, Form
from scoring.program.program import compile_form
from scoring.program.reference import statistic_of
from scoring.table.evaluate import inputs_of, population_of

#: What stands at an address that has no options, in a word.
IN_FULL = {Curve: "curve", Expression: "expression", ErrorComponent: "component of error"}


def show_addresses(form: Form, as_json: bool) -> None:
    """Every address, what stands there, and what else could."""
    known = addresses(form)
    if as_json:
        document: list[dict[str, Any]] = [
            {"address": address, "value": written(form, noun), "options": list(getattr(noun, "options", ()))}
            for address, noun in known.items()
        ]
        print_json(document)
        return
    rows, figures = [], figures_or_words(form)
    for address, noun in known.items():
        words = (*getattr(noun, "options", ()), *(("a figure",) if address in figures else ()))
        others = ", ".join(words)
        kind = next((word for noun_type, word in IN_FULL.items() if isinstance(noun, noun_type)), others)
        rows.append([address, written(form, noun), kind])
    print_table(["address", "value", "options"], rows)
    say(f"{len(rows)} addresses. Try one: --set ADDRESS=VALUE")


def show_reference(form: Form, catalogue: Path | None, as_json: bool) -> None:
    """The statistics that live references take from the catalogue, as lines to paste beside each curve."""
    if catalogue is None:
        problem = Problem(Place("--reference"), "no catalogue", "a catalogue whose statistics are to be frozen")
        raise CatalogueError([problem])
    inputs = inputs_of(form, read_catalogue(catalogue, form))
    program = compile_form(form)
    parts = [part for output in form.outputs for part in output.parts]
    leaning = [
        (part.curve, population_of(program, inputs, part.source)[0])
        for part in parts
        if part.curve is not None and part.curve.reference is not None and part.curve.reference.live
    ]
    if as_json:
        print_json(
            [
                {"address": curve.address, "reference": reference_of(KINDS[curve.kind].figures, v)}
                for curve, v in leaning
            ]
        )
        return
    for curve, values in leaning:
        say(f"# {curve.address}", f"reference: {frozen(KINDS[curve.kind].figures, values)}", whole=True)
    if not leaning:
        say("No curve leans on a live reference.")


def frozen(figures: Sequence[str], values: np.ndarray[Any, Any]) -> str:
    """The figures as a YAML mapping, at full precision."""
    return "{" + ", ".join(f"{name}: {value!r}" for name, value in reference_of(figures, values).items()) + "}"


def reference_of(figures: Sequence[str], values: np.ndarray[Any, Any]) -> dict[str, float | list[float]]:
    """What a curve's `reference` would freeze: its population in order, or its statistics by name."""
    if "population" in figures:
        return {"values": np.sort(values[~np.isnan(values)]).tolist()}
    return {name: float(statistic_of(name, values)[0]) for name in figures}
