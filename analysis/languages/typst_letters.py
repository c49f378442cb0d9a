"""Any text as a string of Typst's, set with the fonts that it carries: what they lack is shown by its number."""

from __future__ import annotations

from analysis.languages.characters import pieces, spaced, stand_in

#: Stretches of Unicode that the serif font of Typst covers well enough for running text.
COVERED = (
    (0x0020, 0x02AF),  # Latin, and the letters of phonetics
    (0x0300, 0x0314),  # the common accents
    (0x0386, 0x03CE),  # Greek
    (0x0400, 0x045F),  # Cyrillic
    (0x05D0, 0x05EA),  # Hebrew
    (0x1E00, 0x1FFF),  # more Latin and Greek
    (0x2010, 0x2027),  # dashes, quotation marks, dots
    (0x2030, 0x203A),
    (0x2070, 0x209C),  # raised and lowered figures
    (0x20A0, 0x20BF),  # currencies
    (0x2190, 0x2193),  # arrows
    (0x2200, 0x22FF),  # signs of mathematics
)


def typst_string(text: str) -> str:
    """The text as a string literal, `"..."`; nothing in it is a command."""
    shown = typst_letters(text).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{shown}"'


def typst_code(text: str) -> str:
    """Code as string literals, `"a.", "b"`: a line may end between two, and nothing is added to say so."""
    return ", ".join(typst_string(piece) for piece in pieces(spaced(text)))


def typst_letters(text: str) -> str:
    """The text with a stand-in for each character that the fonts lack, as data for a document that escapes it itself."""
    return "".join(letter if _is_covered(letter) else stand_in(letter) for letter in spaced(text))


def _is_covered(letter: str) -> bool:
    return any(first <= ord(letter) <= last for first, last in COVERED)
