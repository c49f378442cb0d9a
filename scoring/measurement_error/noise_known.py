"""Of which measures the noise is known, and the caveat of every sentence that rests on it: the one place where it is worded.

Errors of which nothing is known count as 0. So whatever is told apart against the noise of the other measures is told apart at
best; and where no noise is known of anything that a statement stands on, there is nothing to be said.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from scoring.measurement_error.model import ErrorModel

#: So many measures are named in a sentence.
NAMED = 4


@dataclass(frozen=True, slots=True)
class NoiseKnown:
    """The measures that a statement stands on, by what is known of their errors.

    moving: those whose noise is reckoned with; unknown: those of which nothing is known; exact: those that are stated to have no
    error.
    """

    moving: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    exact: tuple[str, ...] = ()

    @property
    def is_nothing(self) -> bool:
        """Whether something is not known, and nothing else moves: no statement can be made then."""
        return bool(self.unknown) and not self.moving

    @property
    def caveat(self) -> str:
        """Against what noise a statement holds, and of what nothing is known; "" where all is known.

        Examples
        --------
        >>> NoiseKnown(("noise_db",), ("edge_mm", "settle_s")).caveat
        'at best: against the noise of noise_db alone; nothing is known of the errors of edge_mm and settle_s, 2 of 3 measures'
        """
        if not self.unknown:
            return ""
        against = f"against the noise of {_some(self.moving)} alone; " if self.moving else ""
        return f"at best: {against}{self.of_nothing}"

    @property
    def of_nothing(self) -> str:
        """Of which measures nothing is known, and how many of all they are."""
        return f"nothing is known of the errors of {_some(self.unknown)}, {self.counted}"

    @property
    def counted(self) -> str:
        """How many of all measures those are of which nothing is known."""
        count = len(self.moving) + len(self.unknown) + len(self.exact)
        return f"{len(self.unknown)} of {count} {'measure' if count == 1 else 'measures'}"

    @property
    def named(self) -> str:
        """The first few of them, and how many more there are."""
        return _some(self.unknown)

    @property
    def not_known(self) -> str:
        """What is said in place of a statement that no noise carries."""
        return f"the bench's noise is not known: {self.of_nothing}"

    def at_best(self, sentence: str) -> str:
        """A sentence about what noise leaves, with its caveat in brackets before the full stop; as it is where all is known.

        Examples
        --------
        >>> NoiseKnown(("noise_db",)).at_best("The first place is settled.")
        'The first place is settled.'
        >>> NoiseKnown((), ("edge_mm",)).at_best("The first place is settled.")
        'The first place is settled (at best: nothing is known of the errors of edge_mm, 1 of 1 measure).'
        """
        if not self.unknown:
            return sentence
        stop = "." if sentence.endswith(".") else ""
        return f"{sentence.removesuffix('.')} ({self.caveat}){stop}"

    def marked(self, words: str) -> str:
        """The same of a cell or a title, whose table names the measures in a note: marked alone."""
        return f"{words}, at best" if self.unknown else words

    def beside(self, other: NoiseKnown) -> NoiseKnown:
        """What is known in two editions at once: unknown in either is unknown."""
        unknown = _without((), self.unknown, other.unknown)
        moving = _without(unknown, self.moving, other.moving)
        return NoiseKnown(moving, unknown, _without((*unknown, *moving), self.exact, other.exact))


#: Nothing is unknown: no statement needs a caveat.
ALL_KNOWN = NoiseKnown()


def noise_known(errors: ErrorModel, measures: Collection[str]) -> NoiseKnown:
    """Of which of some measures, those that a score stands on, the noise is known."""
    read = [name for name in errors.read if name in measures]
    moving = tuple(name for name in read if name in errors.measures and bool((errors.u[name] > 0).any()))
    unknown = tuple(name for name in read if name not in errors.measures)
    return NoiseKnown(moving, unknown, _without((*moving, *unknown), tuple(read)))


def _without(gone: Collection[str], *names: tuple[str, ...]) -> tuple[str, ...]:
    """Each of some names once, but for some."""
    every = dict.fromkeys(name for own in names for name in own)
    return tuple(name for name in every if name not in gone)


def _some(names: Collection[str]) -> str:
    """The first few names, and how many more there are."""
    shown, more = list(names)[:NAMED], len(names) - NAMED
    if more > 0:
        return f"{', '.join(shown)} and {more} more"
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
