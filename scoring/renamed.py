"""What the form calls otherwise than it did: old names are still read, wherever a name is written, and noted."""

from __future__ import annotations

from collections.abc import Mapping

from scoring.declaration.kinds import Word
from scoring.form import MEASURE

#: Components of a measure's errors that there were no keys for.
LATER_ERRORS = ("between_sessions", "between_specimens", "systematic")
#: Where it stands within which classes places are counted, for which there was no key.
LATER_RANKS = "ranks.within"
#: What remarks called it.
_IN_REMARKS = ("below the reporting floor", "below the reporting limit")


def address_today(address: str) -> str:
    """An address by the names of today.

    Examples
    --------
    >>> address_today("measures.noise_dba.reporting_floor")
    'measures.noise_dba.reporting_limit'
    """
    head, dot, key = address.rpartition(".")
    return f"{head}{dot}{MEASURE.renamed.get(key, key)}" if head.startswith("measures.") else address


def value_today(address: str, value: str) -> str:
    """What is written at an address, by the words of today."""
    section, _, rest = address_today(address).partition(".")
    key = MEASURE.keys.get(rest.rpartition(".")[2]) if section == "measures" else None
    return key.kind.old.get(value, value) if key is not None and isinstance(key.kind, Word) else value


def settings_today(settings: Mapping[str, str]) -> dict[str, str]:
    """Values by their addresses, all by the names of today."""
    return {address_today(address): value_today(address, value) for address, value in settings.items()}


def with_later_keys(old: Mapping[str, str], new: Mapping[str, str]) -> dict[str, str]:
    """What stood at addresses that came later: no error was taken for granted, and no place counted within classes."""
    later = (at for at in new if at == LATER_RANKS or _is_later_error(at))
    return dict.fromkeys(later, "none") | dict(old)


def _is_later_error(address: str) -> bool:
    return address.startswith("measures.") and address.rpartition(".")[2] in LATER_ERRORS


def remark_today(remark: str) -> str:
    """A published remark by the words of today."""
    return remark.replace(*_IN_REMARKS)
