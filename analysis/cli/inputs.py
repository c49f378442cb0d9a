"""What every command takes first: a formula with its settings, and a catalogue."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from scoring.addresses import set_addresses
from scoring.catalogue import Catalogue, read_catalogue
from scoring.form import Form
from scoring.reader import read_form


def load_form(formula: Path, settings: Sequence[str]) -> Form:
    """The formula with every `--set ADDRESS=VALUE` made."""
    return set_addresses(read_form(formula), settings)


def load(formula: Path, catalogue: Path, settings: Sequence[str]) -> tuple[Form, Catalogue]:
    """The formula and the catalogue."""
    form = load_form(formula, settings)
    return form, read_catalogue(catalogue, form)


def headed(form: Form, settings: Sequence[str]) -> str:
    """The formula's name and version, and what was tried on it."""
    edited = f", with {', '.join(settings)}" if settings else ""
    return f"{form.name} {form.version}".strip() + edited
