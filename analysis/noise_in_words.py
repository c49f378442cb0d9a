"""What the noise in a statement is made of, and what it leaves out: part of every headline that rests on it."""

from __future__ import annotations

from scoring.form import Form, Output

#: The components of errors, as a sentence calls them; the first is that of repeats.
WORDS = {
    "repeatability": "repeatability",
    "between_sessions": "sessions",
    "between_specimens": "specimens",
    "systematic": "systematic errors",
}
#: What a study that draws repeats again from themselves reckons with, where nothing is declared.
RESAMPLED = "the scatter of repeats"
#: What a statement must say that it leaves out.
OWED = ("between_sessions", "between_specimens")


def noise_in_words(form: Form, output: Output | None = None) -> str:
    """What noise is reckoned with, as in "repeatability and sessions (differences between specimens left out)".

    output: the rating or score that it is about, for the measures that lead to it alone; all measures by default
    """
    measures = form.measures
    if output is not None:
        under = form.dependencies.under(output.name)
        measures = tuple(measure for measure in measures if measure.name in under)
    declared = {name: [m for m in measures if m.declares(name)] for name in WORDS}
    known = [m for m in measures if any(m.declares(name) for name in WORDS)]
    there = [_counted(name, len(declared[name]), len(known)) for name in WORDS if declared[name]] or [RESAMPLED]
    gone = [WORDS[name] for name in OWED if not declared[name]]
    if not gone:
        return _listed(there)
    reckoned = f"{there[0]} alone" if len(there) == 1 else _listed(there)
    return f"{reckoned} (differences between {_listed(gone)} left out)"


def _counted(name: str, number: int, known: int) -> str:
    whole = number == known or name == "repeatability"
    return WORDS[name] if whole else f"{WORDS[name]} of {number} of {known} measures"


def _listed(words: list[str]) -> str:
    return ", ".join(words[:-1]) + (" and " if len(words) > 1 else "") + words[-1]
