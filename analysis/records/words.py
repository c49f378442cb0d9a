"""How figures of a record are put into words."""

from __future__ import annotations

from scoring.numbers.rounding import show

ABSENT = "–"
#: Characters of a name that a line or a table shows; the ends of a longer one are shown.
LONGEST = 40


def plain(figure: float | str | None) -> str:
    """A figure or a word as it stands, a dash for none."""
    if figure is None or figure == "":
        return ABSENT
    return figure if isinstance(figure, str) else f"{figure:.17g}" if isinstance(figure, int) else repr(figure)


def as_shown(shown: float | None, step: float) -> str:
    """A shown figure with the decimals of its step; as it stands where it is no multiple of that, a dash for none."""
    try:
        return ABSENT if shown is None else show(shown, step)
    except ValueError:
        return plain(shown)


def shortened(name: str) -> str:
    """A name in at most `LONGEST` characters, by its two ends."""
    half = LONGEST // 2
    return name if len(name) <= LONGEST else f"{name[: half - 1]}…{name[-half:]}"
