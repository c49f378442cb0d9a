from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Conditions:
    sessions: object
    specimens: object


def conditions_of(catalogue, name):
    return Conditions(*(catalogue.extras.get(k, {}).get(name) for k in ("session", "specimen")))
