"""The numbers and choices that a page moves: what each is in words, and where it stands in the formula's text."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from analysis.changes.change_words import subjects, units_of
from scoring.addresses.addresses import Addressed, addresses
from scoring.addresses.number_units import NumberUnit
from scoring.form import Choice, Form, Number
from scoring.texts.document import write_scalar
from scoring.texts.source import Spot
from scoring.units.role import UnitRole

#: Why an address stays as it is on a page.
BY_READINGS = "about readings before they are summed up, or about what is plausible: `--set` tries it"
BY_TEXT = "texts: the numbers in them can be moved here, the texts by `--set`"
IDLE = "no score depends on them as things are stated"


def subjects_of(form: Form) -> dict[str, str]:
    """What stands at each address, in words."""
    units = units_of(form)
    found = subjects(form, form, units)
    for thing in (*form.measures, *form.outputs, *form.gates):
        found |= subjects(form, thing, units)
    return found


def number_document(number: Number, subject: str, unit: NumberUnit) -> dict[str, Any]:
    """A number: its value as written, what it is, whether it is a place along a measure, and where it is written."""
    return {
        "address": number.address,
        "value": number.value,
        "text": number.text,
        "words": subject.rstrip(" :,"),
        "unit": unit.unit,
        "along": unit.role is UnitRole.ALONG,
        "spot": spot_document(number.spot),
    }


def choice_document(choice: Choice, options: Sequence[str], subject: str) -> dict[str, Any]:
    """A choice: its options, the stated one first, and how each is written."""
    return {
        "address": choice.address,
        "options": list(options),
        "written": [write_scalar(option, plain=True) for option in options],
        "words": subject.rstrip(" :,"),
        "spot": spot_document(choice.spot),
    }


def spot_document(spot: Spot) -> dict[str, Any]:
    """Where a value is written."""
    return {
        "source": spot.source,
        "start": spot.start,
        "end": spot.end,
        "before": spot.before,
        "after": spot.after,
        "raw": spot.raw,
    }


def left_out(form: Form, moved: Collection[str]) -> list[dict[str, Any]]:
    """The addresses that the page does not move, by the reason why."""
    by_reason: dict[str, list[str]] = {}
    for address, noun in addresses(form).items():
        if address not in moved:
            by_reason.setdefault(_why(address, noun), []).append(address)
    return [{"why": why, "addresses": found} for why, found in by_reason.items()]


def _why(address: str, noun: Addressed) -> str:
    if address.startswith(("measures.", "error_correlations.")):
        return BY_READINGS
    return IDLE if isinstance(noun, Number | Choice) else BY_TEXT
