"""The causes of a move as a sentence, a table or a figure calls them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

from analysis.changes.change_words import from_to, subjects, units_of
from analysis.comparison.bridging import Bridge
from analysis.comparison.players import READINGS, STRUCTURE, Player
from analysis.wording import counted, listed
from scoring.form import Form, Output

#: Texts of more characters are left out of a sentence.
LONGEST = 24
#: Beginnings of a subject that take no article before them.
BARE = ("the ", "its ", "a ", "where ", "outside ", "repeats ", "which ")
SECTIONS = ("ratings.", "scores.", "measures.")


def short_name(cause: str, score: Output) -> str:
    """A cause's name without what a table of one score can do without: the score's own address, or the section."""
    own = f"{score.address}."
    if cause.startswith(own):
        return cause.removeprefix(own)
    return next((cause.removeprefix(section) for section in SECTIONS if cause.startswith(section)), cause)


def spoken(cause: Player, form: Form, score: Output) -> str:
    """A cause as the object of a sentence about a score, to be read aloud: no label twice, and no share of a weight."""
    if cause.kind == STRUCTURE:
        return f"what else changed in the formula ({cause.says})"
    if cause.kind == READINGS:
        says = cause.says.removesuffix(" differ")
        return f"the {says}" if says.startswith("readings") else says
    if cause.kind != "edit":
        return f"the products that came or went ({cause.says})"
    thing, label = _thing_at(form, cause.address)
    units = units_of(form)
    subject = subjects(form, thing, units).get(cause.address, cause.address)
    words = (subject or cause.address.replace("constants.", "constant ")).rstrip(":,")
    article = "" if words.startswith(BARE) else "the "
    whose = f" in {label}" if label and label != score.label else ""
    is_short = max(len(cause.before), len(cause.after)) <= LONGEST
    change = from_to(cause.before, cause.after, units.get(cause.address, "")).replace(" -> ", " to ", 1)
    return f"{article}{words}{whose}" + (f" ({change})" if is_short else "")


def _thing_at(form: Form, address: str) -> tuple[object, str]:
    """What an address is of, and how it is called; None and "" where it is the form's own."""
    for output in form.outputs:
        if address == output.address or address.startswith(f"{output.address}."):
            return output, " ".join(output.label.split())
    for measure in form.measures:
        if address.startswith(f"measures.{measure.name}."):
            return measure, f"measure {measure.name}"
    return None, ""


def bridged_readings(differing: Mapping[str, Sequence[str]], bridges: Sequence[Bridge]) -> str:
    """What differs in the readings where methods changed, by the products and the measures of each that differ."""
    return listed([*_methods(differing, bridges), *_others(differing, {bridge.measure for bridge in bridges})])


def _methods(differing: Mapping[str, Sequence[str]], bridges: Sequence[Bridge]) -> Iterator[str]:
    for bridge in bridges:
        touched = [name for name, measures in differing.items() if bridge.measure in measures]
        anew = sum(name in bridge.new for name in touched)
        if touched:
            mapped = f"readings of {counted(len(touched) - anew, 'product')} bridged, of {anew} taken anew"
            yield f"a new method for {bridge.measure} ({mapped})"


def _others(differing: Mapping[str, Sequence[str]], bridged: Iterable[str]) -> Iterator[str]:
    others = Counter(bool(set(measures) - set(bridged)) for measures in differing.values())[True]
    if others:
        yield f"other readings of {counted(others, 'product')}"
