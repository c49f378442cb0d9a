"""The texts that a form is read from, and the spans in them where its values are written."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Source:
    """One text that a form was read from."""

    name: str
    text: str


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a value is written, so that it can be replaced: the span `start:end` of one source text.

    The new text is `before` + value + `after`: as one scalar (`5%`, a number inside an expression), or, where `raw`,
    as YAML text around a scalar (a key that is not written yet has an empty span).
    """

    source: int
    start: int
    end: int
    before: str = ""
    after: str = ""
    raw: bool = False
