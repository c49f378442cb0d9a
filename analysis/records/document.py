"""A record as a file: read, or refused with the place where it breaks; and written.

A new record comes where nothing is, a correction in the place of what was read, and of nothing else.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from itertools import islice
from math import isfinite
from pathlib import Path
from typing import Any

from analysis.json_shapes import MOST_NAMED, Misfit, misfits, too_deep
from analysis.json_text import json_bytes
from analysis.outputs.guard import RECORD, check_writable, told_as_faults
from analysis.outputs.whole_files import create_whole, locked, replace_whole
from analysis.records.record import Record, State
from analysis.records.schema import FINGERPRINT_KEYS, FORMAT, envelope
from scoring.errors import Place, Problem, SteelyardError
from scoring.texts.file_limits import limits, too_many
from scoring.texts.input_files import TooLarge, file_bytes

FORMATS = f"format 1 to {FORMAT}"
NEWEST_KEY = FINGERPRINT_KEYS[FORMAT]


class RecordError(SteelyardError):
    """A record cannot be read, or not be made."""


def read_record(path: Path) -> Record:
    """The record in a file. Its shape is checked here, its fingerprints in `corrections`, its sections
    in `schema`.

    Raises
    ------
    RecordError : the file cannot be read, is no JSON (with line and column), no record, or one of a newer format
    """
    document = _parsed(_text(path), path)
    if not isinstance(document, dict) or document.get("record") != RECORD:
        raise _refused(path, "no record of steelyard", f'a JSON object with "record": "{RECORD}"')
    form = document.get("format")
    if type(form) is not int or not 1 <= form <= FORMAT:
        hint = "A newer steelyard wrote it: verify it with that one." if isinstance(form, int) and form > FORMAT else ""
        raise _refused(path, f"a record of format {json.dumps(form)[:40]}", FORMATS, hint)
    faults = list(islice(misfits(envelope(form), document, "record"), MOST_NAMED))
    if faults:
        raise misfit_fault(str(path), faults)
    document = _throughout(document, NEWEST_KEY)
    return Record(document, states_of([document["publication"], *document["corrections"]]))


def _under(key: str, entry: Mapping[str, Any]) -> dict[str, Any]:
    """An entry whose fingerprint stands under another key, at the place where it stood."""
    return {key if name in FINGERPRINT_KEYS.values() else name: value for name, value in entry.items()}


def _throughout(document: Mapping[str, Any], key: str) -> dict[str, Any]:
    """A whole document whose fingerprints stand under `key`."""
    entries: dict[str, Any] = {
        "publication": _under(key, document["publication"]),
        "corrections": [_under(key, entry) for entry in document["corrections"]],
    }
    return {name: entries.get(name, value) for name, value in _under(key, document).items()}


def misfit_fault(source: str, faults: Iterable[Misfit]) -> RecordError:
    """The fault of a record whose parts are not what they should be."""
    return RecordError(Problem(Place(source), f"at {one.where}: {one.found}", one.expected) for one in faults)


def states_of(entries: Sequence[dict[str, Any]]) -> tuple[State, ...]:
    """The states, each with the sections that it keeps from the one before."""
    states: list[State] = []
    for number, entry in enumerate(entries):
        before = states[-1].sections if states else {}
        states.append(State(number, entry, {**before, **entry["sections"]}))
    return tuple(states)


def record_bytes(document: Any) -> bytes:
    """The file's bytes: the same for the same record."""
    return json_bytes(document)


def first_odd_line(path: Path, document: Any) -> int:
    """The first line that is not written as steelyard writes it, 0 for none; line ends of another system do not count."""
    there = _text(path).replace("\r\n", "\n").split("\n")
    meant = record_bytes(_throughout(document, FINGERPRINT_KEYS[document["format"]])).decode().split("\n")
    pairs = zip(there, meant, strict=False)
    odd = next((line for line, (one, other) in enumerate(pairs, start=1) if one != other), 0)
    return odd or (0 if len(there) == len(meant) else min(len(there), len(meant)) + 1)


def _text(path: Path) -> str:
    try:
        return file_bytes(path, limits().record_bytes).decode("utf-8")
    except TooLarge as fault:
        raise RecordError([too_many("record_bytes", fault.size, Place(str(path)))]) from None
    except UnicodeDecodeError as fault:
        raise _refused(path, f"a byte that is not UTF-8 at {fault.start}", "UTF-8 text") from None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "no such path"
        raise _refused(path, f"a file that cannot be read ({reason})", "a record") from None


def _parsed(text: str, path: Path) -> Any:
    try:
        document = json.loads(
            text, object_pairs_hook=_object, parse_float=_finite, parse_int=_whole, parse_constant=_no_number
        )
        if too_deep(document):
            raise ValueError("nested too deep")
        record_bytes(document)
    except json.JSONDecodeError as fault:
        hint = "Take it from where it was kept: a record is written by steelyard and not by hand."
        place = Place(str(path), fault.lineno, fault.colno)
        raise RecordError([Problem(place, f"not JSON: {fault.msg}", "JSON", hint)]) from None
    except UnicodeEncodeError:
        raise _refused(path, "half of a surrogate pair", "text") from None
    except (ValueError, RecursionError) as fault:
        found = "nested too deep" if isinstance(fault, RecursionError) else str(fault)[:120]
        raise _refused(path, found, "a record") from None
    return document


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise ValueError(f"the key `{key}` twice in one object")
        found[key] = value
    return found


def _finite(text: str) -> float:
    value = float(text)
    if not isfinite(value):
        shown = text if len(text) <= 40 else f"{text[:40]}..."
        raise ValueError(f"the number {shown}, too large to hold")
    return value


def _whole(text: str) -> int:
    _finite(text)
    return int(text)


def _no_number(text: str) -> float:
    raise ValueError(f"{text}, which is no number")


def _refused(path: Path, found: str, expected: str, hint: str = "") -> RecordError:
    return RecordError([Problem(Place(str(path)), found, expected, hint)])


NEW_NAME = "Use a new name; for a correction of it, `--corrects` it, with a `--cause`."


def keep_new(path: Path, document: dict[str, Any]) -> None:
    """Write a record where nothing is, even where somebody else is writing one there at the same moment.

    Raises
    ------
    FileError : something stands there, or nothing can be written
    """
    create_whole(path, record_bytes(document), NEW_NAME)


def keep_corrected(path: Path, document: dict[str, Any], before: Record) -> None:
    """Write a correction of the record `before`, which was read from `path`, into its place.

    A link stays one, mode and owner are kept.

    Raises
    ------
    RecordError : the record is another than was read: somebody else corrected it meanwhile
    FileError : it is read-only, or cannot be written
    """
    with told_as_faults(path), locked(Path(os.path.realpath(path))):
        check_writable(path)
        there = read_record(path)
        if there.fingerprint != before.fingerprint:
            found = (
                f"it was corrected meanwhile (its fingerprint is {there.fingerprint[:12]}..., and not as it was read)"
            )
            hint = "Nothing was written; run the same command again."
            raise RecordError([Problem(Place(str(path)), found, "the record as it was read", hint)])
        replace_whole(path, record_bytes(document))
