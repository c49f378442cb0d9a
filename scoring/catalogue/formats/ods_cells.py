"""Cells of an OpenDocument sheet: from the attributes and the text of an element to a typed cell.

References
----------
Open Document Format for Office Applications (OpenDocument) Version 1.3, part 3, 19.385 `office:value-type` and what it needs
beside it (from memory).
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping

from scoring.catalogue.cells import Fault, shown

OFFICE = "urn:oasis:names:tc:opendocument:xmlns:office:1.0 "
TABLE = "urn:oasis:names:tc:opendocument:xmlns:table:1.0 "
TEXT = "urn:oasis:names:tc:opendocument:xmlns:text:1.0 "
_CALC = "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0 "

_KIND, _FORMULA = f"{OFFICE}value-type", f"{TABLE}formula"
_NUMBERS = frozenset({"float", "percentage", "currency"})
#: Where the value of each kind stands, and what it is called.
_VALUES = {
    "float": (f"{OFFICE}value", "a number"),
    "percentage": (f"{OFFICE}value", "a number"),
    "currency": (f"{OFFICE}value", "a number"),
    "boolean": (f"{OFFICE}boolean-value", "a truth value"),
    "date": (f"{OFFICE}date-value", "a date"),
    "time": (f"{OFFICE}time-value", "a time"),
}
_DURATION = re.compile(
    r"(-)?P(?:(\d{1,6})D)?(?:T(?:(\d{1,9})H)?(?:(\d{1,9})M)?(?:(\d{1,9})(?:[.,](\d{1,9}))?S)?)?", re.ASCII
)
_DAY = datetime.timedelta(days=1)
_UNSTORED = Fault(
    "a formula without a stored result",
    "a value",
    "Open the file in a spreadsheet program and save it, or write the value.",
)


def typed_cell(attributes: Mapping[str, str], text: str) -> object:
    """A cell as Python has it: None, a text, a number, a truth value, a date, a time, or a `Fault`.

    Parameters
    ----------
    attributes : those of the cell's element, by namespace and name
    text : what the cell shows
    """
    kind = attributes.get(_KIND, "")
    if attributes.get(f"{_CALC}value-type") == "error":
        return text or _UNSTORED  # as `#DIV/0!`, which is no reading
    if kind == "string":
        return attributes.get(f"{OFFICE}string-value", text) or None
    if kind in _VALUES:
        where, called = _VALUES[kind]
        return _value(kind, attributes.get(where, ""), called)
    if not kind and not text and _FORMULA in attributes:
        return _UNSTORED
    return text or None


def _value(kind: str, written: str, called: str) -> object:
    """The value of a kind as the file writes it, or what is wrong with it."""
    try:
        if kind in _NUMBERS:
            return _number(written)
        if kind == "boolean":
            return {"true": True, "false": False}[written]
        return datetime.datetime.fromisoformat(written) if kind == "date" else _time(written)
    except (ValueError, KeyError, OverflowError):
        return Fault(f"{shown(written)} where the file should hold {called}", called)


def _number(written: str) -> float:
    if "_" in written:  # which Python takes, and the format does not
        raise ValueError(written)
    return float(written)


def _time(written: str) -> datetime.time | datetime.timedelta:
    """A time of day, or a length of time where it is none."""
    parts = _DURATION.fullmatch(written)
    if parts is None:
        raise ValueError(written)
    days, hours, minutes, seconds = (int(part or 0) for part in parts.groups()[1:5])
    micros = int((parts[6] or "0").ljust(6, "0")[:6])
    length = datetime.timedelta(days, seconds, micros, minutes=minutes, hours=hours)
    if parts[1] or length >= _DAY:
        return -length if parts[1] else length
    return (datetime.datetime.min + length).time()
