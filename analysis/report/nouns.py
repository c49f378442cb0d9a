"""Nouns as JSON: a dataclass by its fields, in their order, so that a document never repeats them key by key."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from math import isfinite
from pathlib import PurePath
from typing import Any

import numpy as np

from scoring.errors import Place


def as_json(noun: Any, digits: int | None = None) -> Any:
    """A noun for JSON: lists for tuples and arrays, text for places and words of a choice, null for what is not finite.

    Parameters
    ----------
    digits : significant digits of numbers, None for all of them

    Examples
    --------
    >>> as_json({"chance": 1 / 3, "low": float("nan"), "who": ("A-01", "A-02")}, 3)
    {'chance': 0.333, 'low': None, 'who': ['A-01', 'A-02']}
    """
    if isinstance(noun, Place):
        # the folder is nobody's business, and another one on every machine
        return ":".join(str(part) for part in (PurePath(noun.source).name, noun.line, noun.column) if part)
    if isinstance(noun, Enum):
        return as_json(noun.value, digits)
    if is_dataclass(noun) and not isinstance(noun, type):
        return {field.name: as_json(getattr(noun, field.name), digits) for field in fields(noun)}
    if isinstance(noun, Mapping):
        return {key: as_json(value, digits) for key, value in noun.items()}
    if isinstance(noun, list | tuple):
        return [as_json(item, digits) for item in noun]
    if isinstance(noun, np.ndarray | np.generic):
        return as_json(noun.tolist(), digits)
    if isinstance(noun, float):
        return _number(noun, digits)
    return noun


def _number(value: float, digits: int | None) -> float | None:
    if not isfinite(value):
        return None
    return value if digits is None else float(f"{value:.{digits}g}")
