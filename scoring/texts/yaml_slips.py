"""What keeps a text from being YAML, told by what its lines look like, not by what the parser ran into."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from scoring.errors import Place, Problem

ENTRY = "`key: value`"
CLOSING = {"{": "}", "[": "]"}
#: Spaces that look like spaces and are none to YAML, where they do harm: in an indent, or beside a colon.
_STRANGE_SPACE = re.compile(r"^[ ]*[\u00a0\u2007\u202f\u3000]|:[\u00a0\u2007\u202f\u3000]|[\u00a0\u2007\u202f\u3000]:")
_GLUED = re.compile(r"([\w .-]+):([^\s:].*)")


@dataclass(frozen=True, slots=True)
class Stop:
    """Where and why a parser stopped: its words, its place, and the place where what it was reading began."""

    reason: str
    at: Place
    began: Place | None = None


def problem_of(stop: Stop, text: str) -> Problem:
    """The fault that made the parser stop, in words for whoever wrote the text."""
    lines = text.split("\n")
    for told in (_character, _open_quote, _colon, _brackets, _indent):
        problem = told(stop, lines)
        if problem is not None:
            return problem
    return Problem(stop.at, f"not YAML: {stop.reason}", "YAML 1.2")


def bare_key(before: str, key: str, after: str, place: Place) -> Problem:
    """The fault of an entry in braces that has no value; `before` and `after` are what commas alone set apart from it."""
    if _is_whole(key) and (_is_whole(before) or _is_whole(after)):
        one, other = (before, key) if _is_whole(before) else (key, after)
        at = replace(place, column=place.column - len(before) - 1) if _is_whole(before) else place
        return Problem(at, f"the decimal comma in `{one},{other}`", "a decimal point", f"Write `{one}.{other}`.")
    if key.count(")") > key.count("("):
        hint = "Set a text that holds a comma in quotes."
        return Problem(place, f"`{_clip(key)}`, which a comma cuts off", ENTRY, hint)
    return _without_colon(key, place)


def _is_whole(text: str) -> bool:
    return re.fullmatch(r"[+-]?[0-9]+", text) is not None


def _without_colon(written: str, place: Place) -> Problem:
    """A key that has no colon, or one with its value glued to it."""
    glued = _GLUED.fullmatch(written)
    if glued:
        hint = f"Write `{_clip(f'{glued[1]}: {glued[2]}')}`."
        return Problem(place, f"`{_clip(written)}`, without a space after its colon", ENTRY, hint)
    key, _, value = (part.strip() for part in re.sub(r"\s*=\s*|\s+", "\0", written, count=1).partition("\0"))
    hint = f"Write `{_clip(f'{key}: {value}'.strip())}`." if re.fullmatch(r"[\w.-]+", key) else ""
    return Problem(place, f"`{_clip(written)}`, without a colon", ENTRY, hint)


def _line(lines: list[str], number: int) -> str:
    return lines[number - 1].rstrip("\r") if 0 < number <= len(lines) else ""


def _character(stop: Stop, lines: list[str]) -> Problem | None:
    """A tab, a space that is none, or a sign that YAML keeps for itself."""
    if "\\t" in stop.reason:
        return Problem(stop.at, "a tab", "spaces", "Indent and separate with spaces, not tabs.")
    for number in (stop.at.line, stop.at.line - 1):
        strange = _STRANGE_SPACE.search(_line(lines, number))
        if strange:
            column = next(i for i in range(strange.start(), strange.end()) if _line(lines, number)[i] not in " :") + 1
            found = f"a special space (U+{ord(_line(lines, number)[column - 1]):04X})"
            hint = "Delete it and type a space; it came with a pasted text."
            return Problem(replace(stop.at, line=number, column=column), found, "an ordinary space", hint)
    sign = re.search(r"found character ['\"](.)['\"] that cannot start", stop.reason)
    if sign:
        found = f"a value that begins with `{sign[1]}`"
        return Problem(stop.at, found, "a text in quotes, or one that begins otherwise", "Set the text in quotes.")
    return None


def _open_quote(stop: Stop, lines: list[str]) -> Problem | None:
    if "end of stream" not in stop.reason or stop.began is None:
        return None
    quote = _line(lines, stop.began.line)[stop.began.column - 1 : stop.began.column]
    if quote not in {"'", '"'}:
        return None
    hint = f"Close it where the text ends, or set the text in {'double' if quote == chr(39) else 'single'} quotes."
    return Problem(stop.began, f"a quote {quote} that is never closed", f"a {quote} at the end of the text", hint)


def _colon(stop: Stop, lines: list[str]) -> Problem | None:
    """A colon too many, or none where one belongs: in this line, or in the one above, which then reads on into it."""
    if "could not find expected ':'" in stop.reason and stop.began is not None:
        return _key_alone(stop.began, lines)
    if "mapping values are not allowed" not in stop.reason:
        return None
    if ": " in _line(lines, stop.at.line)[: stop.at.column - 1]:
        hint = "Set a text that holds a colon in quotes."
        return Problem(stop.at, "a second `: ` in one line", f"one {ENTRY} a line", hint)
    above = _above(stop.at.line, lines)
    if above is None:
        return None
    alone = _key_alone(replace(stop.at, line=above, column=_column(_line(lines, above))), lines)
    if alone is not None:
        return alone
    own, other = _column(_line(lines, stop.at.line)), _column(_line(lines, above))
    if own <= other:
        return None
    found = f"an indent that does not fit: column {own}, below a line that begins in column {other} and holds a value"
    hint = "Only what stands below a key without a value is indented further."
    return Problem(replace(stop.at, column=own), found, f"column {other}, as above", hint)


def _key_alone(place: Place, lines: list[str]) -> Problem | None:
    """The fault of a line whose key lacks its colon, or the space after it."""
    written = re.sub(r"\s#.*", "", _line(lines, place.line)).strip()
    if not written or written.endswith(":") or re.search(r":\s|[\[\]{}\"'#]", written):
        return None
    return _without_colon(written, place)


def _above(line: int, lines: list[str]) -> int | None:
    """The number of the nearest line above that says something."""
    said = (number for number in range(line - 1, 0, -1) if _line(lines, number).strip())
    return next((number for number in said if not _line(lines, number).lstrip().startswith("#")), None)


def _column(line: str) -> int:
    return len(line) - len(line.lstrip(" ")) + 1


def _brackets(stop: Stop, lines: list[str]) -> Problem | None:
    """Braces and brackets: one left open, one too many, or no comma inside."""
    got = re.search(r"(?:got|found) '(.*)'$", stop.reason)
    if got is None:
        return None
    if "<block end>" in stop.reason and got[1] in CLOSING.values():
        opening = {closing: one for one, closing in CLOSING.items()}[got[1]]
        found = f"`{got[1]}` without a `{opening}` before it"
        return Problem(stop.at, found, f"as many `{opening}` as `{got[1]}`", "Leave it out.")
    began = stop.began
    bracket = _line(lines, began.line)[began.column - 1 : began.column] if began is not None else ""
    if "expected ',' or" in stop.reason and began is not None and bracket in CLOSING:
        if stop.at.line == began.line and got[1] not in CLOSING.values():
            between = _line(lines, began.line)[began.column - 1 : stop.at.column]
            signs = "commas, not semicolons" if ";" in between else "commas"
            hint = f"Separate what stands inside `{bracket} {CLOSING[bracket]}` with {signs}."
            return Problem(stop.at, "two entries without a comma between them", "a comma", hint)
        hint = f"It was still open in line {stop.at.line}, column {stop.at.column}."
        return Problem(began, f"`{bracket}` that is not closed", f"a `{CLOSING[bracket]}` for it", hint)
    if got[1] == "<stream end>":
        hint = "Count the braces and brackets of the last lines."
        return Problem(stop.at, "the end of the file inside `{` or `[`", "a `}` or `]` for it", hint)
    return None


def _indent(stop: Stop, lines: list[str]) -> Problem | None:
    if "<block end>" not in stop.reason:
        return None
    line, above = _line(lines, stop.at.line), _above(stop.at.line, lines)
    if line[: stop.at.column - 1].strip():
        hint = "Is a quote closed too early? Inside single quotes an apostrophe is written twice."
        return Problem(stop.at, "more text after the value", f"one {ENTRY} a line", hint)
    hint = "Keys of one mapping, and the dashes of one list, begin in the same column."
    if above is not None:
        dashes = [text.lstrip().startswith("- ") for text in (_line(lines, above), line)]
        said = f"line {above} begins in column {_column(_line(lines, above))}, this one in column {_column(line)}"
        if dashes[0] != dashes[1]:
            said = f"line {above if dashes[0] else stop.at.line} begins with `-`, the other line does not"
        hint += f" Here {said}."
    return Problem(stop.at, "an indent that does not fit the lines above it", "the column of its kind", hint)


def _clip(text: str) -> str:
    return text if len(text) <= 60 else text[:57] + "..."
