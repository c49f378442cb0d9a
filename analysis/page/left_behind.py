"""What a choice leaves behind in a formula's text: numbers of a blend's own that another blend has no say for.

A file that holds one is refused; a page that saves the formula with another blend takes it out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scoring.blends import BLENDS, NUMBERS
from scoring.form import Choice, Form, Number
from scoring.texts.document import Mapping, Node, Scalar
from scoring.texts.source import Spot


def left_behind(form: Form, choice: Choice, options: Sequence[str]) -> list[list[Spot]]:
    """For each option of a choice, the stretches of text that have to go with it; none but for blends."""
    of_blends = {output.blend.address: output.numbers for output in form.outputs if output.blend is not None}
    spots = {name: _written_at(form, number) for name, number in of_blends.get(choice.address, ())}
    return [
        [spot for name, spot in spots.items() if spot is not None and not _takes(option, name)] for option in options
    ]


def _takes(blend: str, name: str) -> bool:
    """Whether a blend has a number of its own called so."""
    return NUMBERS[name] in BLENDS[blend].numbers


def _written_at(form: Form, number: Number) -> Spot | None:
    """The stretch of a number's key and value, with what parts them from their neighbours; None where it is not written."""
    if number.spot.raw:
        return None
    source, text = number.spot.source, form.sources[number.spot.source].text
    for mapping in _mappings(form.documents[source]):
        for index, (key, value) in enumerate(mapping.entries):
            if isinstance(value, Scalar) and value.start == number.spot.start:
                return Spot(source, *_stretch(mapping, index, key, text), raw=True)
    return None


def _mappings(node: Node) -> Iterator[Mapping]:
    """Every mapping of a document."""
    if isinstance(node, Scalar):
        return
    if isinstance(node, Mapping):
        yield node
    inside = [value for _, value in node.entries] if isinstance(node, Mapping) else node.items
    for one in inside:
        yield from _mappings(one)


def _stretch(mapping: Mapping, index: int, key: Scalar, text: str) -> tuple[int, int]:
    """From where to where one entry goes: its line; in braces, up to the next entry, or from the end of the one before."""
    end = mapping.entries[index][1].end
    if not mapping.flow:
        line_end = text.find("\n", end)
        return text.rfind("\n", 0, key.start) + 1, len(text) if line_end < 0 else line_end + 1
    if index + 1 < len(mapping.entries):
        return key.start, mapping.entries[index + 1][0].start
    return (mapping.entries[index - 1][1].end if index else key.start), end
