"""How nouns are declared: kinds of keys, and what a noun says of its own."""

from scoring.declaration import kinds
from scoring.declaration.declaration import (
    Beside,
    Declaration,
    Key,
    Keyed,
    Noun,
    NumberKey,
    OneOf,
    Rule,
    SomeOf,
    counted,
    key,
    keys_of,
    noun,
)

__all__ = [
    "Beside",
    "Declaration",
    "Key",
    "Keyed",
    "Noun",
    "NumberKey",
    "OneOf",
    "Rule",
    "SomeOf",
    "counted",
    "key",
    "keys_of",
    "kinds",
    "noun",
]
