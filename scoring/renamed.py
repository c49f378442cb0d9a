"""What the form calls otherwise than it did: old names are still read, wherever a name is written, and noted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from scoring.errors import Place

#: Keys of a measure by their old names.
MEASURE_KEYS = {"reporting_floor": "reporting_limit", "below_floor": "below_limit"}
#: Words by the key that they stand at, and their old names.
WORDS = {"below_limit": {"floor": "limit"}}
#: Components of a measure's errors that there were no keys for.
LATER_ERRORS = ("between_sessions", "between_specimens", "systematic")
#: What remarks called it.
_IN_REMARKS = ("below the reporting floor", "below the reporting limit")


@dataclass(frozen=True, slots=True)
class Renamed:
    """An old name in a formula: where it stands, the address, and both names."""

    place: Place
    address: str
    old: str
    new: str

    @property
    def says(self) -> str:
        """The note, for whoever keeps the file."""
        return f"`{self.old}` was renamed `{self.new}`; the old name is still read"


def address_today(address: str) -> str:
    """An address by the names of today.

    Examples
    --------
    >>> address_today("measures.noise_dba.reporting_floor")
    'measures.noise_dba.reporting_limit'
    """
    head, dot, key = address.rpartition(".")
    return f"{head}{dot}{MEASURE_KEYS.get(key, key)}" if head.startswith("measures.") else address


def value_today(address: str, value: str) -> str:
    """What is written at an address, by the words of today."""
    return WORDS.get(address_today(address).rpartition(".")[2], {}).get(value, value)


def settings_today(settings: Mapping[str, str]) -> dict[str, str]:
    """Values by their addresses, all by the names of today."""
    return {address_today(address): value_today(address, value) for address, value in settings.items()}


def with_later_errors(old: Mapping[str, str], new: Mapping[str, str]) -> dict[str, str]:
    """What stood at addresses that came later: of the errors that there were no keys for, none was taken for granted."""
    later = (at for at in new if at.startswith("measures.") and at.rpartition(".")[2] in LATER_ERRORS)
    return dict.fromkeys(later, "none") | dict(old)


def remark_today(remark: str) -> str:
    """A published remark by the words of today."""
    return remark.replace(*_IN_REMARKS)
