"""How closely the shares of which quantities are asked for: by default, or as named on the command line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

from analysis.trials.quantities import FAMILIES, Quantities
from scoring.errors import Place, Problem, StudyError, nearest

#: The half-width of every interval at which a sample is large enough, unless another is asked for.
TARGET = 0.05


@dataclass(frozen=True, slots=True)
class Named:
    """Quantities as they are named: a family, of all products, or of one or (for a pair) two of them."""

    family: str
    ids: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """As a sentence says it."""
        return FAMILIES[self.family].says(self.ids)


@dataclass(frozen=True, slots=True)
class Precision:
    """How closely shares are asked for: within, the half-width of their 95 % intervals; of what; asked, not by default."""

    within: float = TARGET
    of: tuple[Named, ...] = (Named("shift"),)
    asked: bool = False


def read_precision(
    within: float | None, of: Sequence[str], products: Sequence[str], pairs: Sequence[tuple[str, str]]
) -> Precision:
    """What `--within` and `--of` ask for.

    Parameters
    ----------
    of : FAMILY, FAMILY:PRODUCT, or of a pair FAMILY:A,B
    products : those of the catalogue; pairs : those that the study asks about

    Raises
    ------
    StudyError
        A name that is not known, or a precision that no share can have.
    """
    problems = []
    if within is None and of:
        found, expected = "no precision", "`--within` with it, as --within 0.02"
        problems.append(
            Problem(Place("--of"), found, expected, "`--of` says of what the shares are to be known so closely.")
        )
    if within is not None and not 0 < within < 0.5:
        hint = "It is the half-width of 95 % intervals of shares of a variance: 0.02 is two percent of it."
        problems.append(Problem(Place("--within"), f"{within:g}", "above 0 and below 0.5", hint))
    named: list[Named] = []
    for text in of:
        family, _, rest = (part.strip() for part in text.partition(":"))
        one = Named(family, _ids(family, rest))
        fault = _fault(one, products, pairs)
        problems += [fault] if fault else []
        named.append(one)
    if problems:
        raise StudyError(problems)
    if within is None:
        return Precision()
    return Precision(within, tuple(dict.fromkeys(named)) or Precision().of, asked=True)


def _ids(family: str, text: str) -> tuple[str, ...]:
    """The products that are named with a family: two of a pair, else one."""
    if not text:
        return ()
    is_paired = family in FAMILIES and FAMILIES[family].of_pairs
    return tuple(part.strip() for part in text.split(",")) if is_paired else (text,)


def _fault(named: Named, products: Sequence[str], pairs: Sequence[tuple[str, str]]) -> Problem | None:
    place = Place("--of")
    if named.family not in FAMILIES:
        expected = f"one of {', '.join(FAMILIES)}, or with a product, as rank:{products[0] if products else 'A-01'}"
        return Problem(place, f"`{named.family}`", expected, nearest(named.family, tuple(FAMILIES)))
    if named.family == "shift" and named.ids:
        return Problem(place, f"`shift:{named.ids[0]}`", "`shift`: it is of the whole ranking")
    if FAMILIES[named.family].of_pairs and named.ids and named.ids not in pairs:
        asked = ",".join(named.ids)
        found, expected = f"the pair {asked}", "a pair that the study asks about, in its order"
        return Problem(place, found, expected, f"Ask by `--beats {asked}`, or under `pairs` in the study file.")
    for name in named.ids:
        if name not in products:
            return Problem(place, f"`{name}`", "a product of the catalogue", nearest(name, products))
    return None


def quantities_named(named: Named, quantities: Quantities) -> tuple[int, ...]:
    """Where the quantities of one score stand that are named so; none where a product has no published score there."""
    which = " ".join(named.ids)
    return tuple(place for place in quantities.places(named.family) if not which or quantities.names[place][1] == which)


def quantities_asked(precision: Precision, quantities: Quantities) -> tuple[int, ...]:
    """Every quantity of one score that is asked for, each once."""
    return tuple(dict.fromkeys(chain.from_iterable(quantities_named(named, quantities) for named in precision.of)))
