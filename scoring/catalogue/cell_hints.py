"""What a cell looks like that is no reading, and what to write instead; or the line of a recipe that settles it."""

from __future__ import annotations

import re

_LONGEST_WORD = 30

_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*"
_DECIMAL_COMMA = "A decimal comma? Write the number with a decimal point."
_WRITE_GAP = "Leave the cell empty, or write `missing: why`."
_NO_READING = "Where there is no reading, leave the cell empty, or write `missing: why`."
_WAS_DATE = "A date, perhaps made of a number by a spreadsheet? Write the reading again."
#: What a cell that is no reading looks like, and what to write instead; the first that fits.
_HINTS = (
    (r".*\d[\u00a0\u2007\u202f]|[\u00a0\u2007\u202f].*", "There is a special space at its edge; delete it."),
    (
        r"[+-]?[1-9][0-9]{0,2},[0-9]{3}",
        "A decimal comma? Write the number with a decimal point. Else write nothing between thousands.",
    ),
    (r"[+-]?[0-9]+,[0-9]+(?:[eE][+-]?[0-9]+)?", _DECIMAL_COMMA),
    (r"[+-]?(?:\.[0-9]+|[0-9]+\.)(?:[eE][+-]?[0-9]+)?", "Write digits on both sides of the point: 0.5."),
    (
        rf"\d{{4}}-\d\d?-\d\d?.*|\d\d?[./-]\d\d?[./-]\d{{2,4}}|\d{{1,4}}[ ./-]?{_MONTH}(?:[ ./-]?\d+)?|{_MONTH}[ ./-]?\d+",
        _WAS_DATE,
    ),
    (r"[+-]?[0-9][0-9,._' \u00a0\u2009\u202f]*", "Write nothing between thousands, and a decimal point."),
    (r"0[xob][0-9a-f]+", "Write the number in decimal digits."),
    (r"[+-]?(?:inf|infinity|nan)", "A reading is finite. Leave the cell empty, or write `missing: why`."),
    (r"#.*", "That is a spreadsheet's error: mend the formula behind the cell, or write `missing: why`."),
    (r"n\.?\s?a\.?|none|null|nil|nd|n\.d\.|tbd|tbc|\?+|-+|\u2013|\u2014|\.|x", _WRITE_GAP),
    (r"missing.*", "Write `missing: why`, with a colon."),
    (r"[\u2010-\u2015\u2212].*", "The minus sign is a typographic one; write `-`."),
    (r"[\"'\u201c-\u201e\u2018-\u201a].*", "Write the number without quotes."),
    (r"=.*", "Write the result, not the spreadsheet's formula."),
    (r"[>\u2265\u2264~\u2248\u00b1].*", "Only `<` and a number, a reading below the reporting limit, can be kept."),
    (r"<.*", "Write `<` and the limit as a plain number, such as `< 22`."),
    (
        r"[0-9.]+\s*[-\u2013]\s*[0-9.]+",
        "A range? Write one number a cell; repeats have columns of their own, `name #1`, `name #2`.",
    ),
    (r"[0-9.]+\s*\u00b1.*", "Write the number alone; the scatter goes to `repeatability` in the formula."),
    (r"[+-]?[0-9.]+\s*(?:[^\W\d]|%|\u00b0).*", "Write the unit in the header, `name [unit]`, not in the cell."),
    (r"[0-9.]+\s*\*+", "Write the number alone."),
    (r"[0-9 ]+/[0-9]+", "Write a fraction as a decimal: 31.5."),
    (r"[\d.,+-]+", "Write the digits 0 to 9."),
    (r"[^\W\d].*", _NO_READING),
)
#: What a line of a recipe settles of all cells alike; `{word}` is what the cell says.
_IN_A_RECIPE = {
    _DECIMAL_COMMA: "In a recipe: `decimal: comma`.",
    _WRITE_GAP: "In a recipe: `words: {{missing: [{word}]}}`.",
    _NO_READING: "In a recipe: `words: {{missing: [{word}]}}`.",
}


def cell_hint(text: str) -> str:
    """What to try for a cell that is no reading; nothing where it resembles none of the usual slips."""
    hint = next((hint for pattern, hint in _HINTS if re.fullmatch(pattern, text, re.IGNORECASE | re.DOTALL)), "")
    line = _IN_A_RECIPE.get(hint, "").format(word=yaml_word(text)) if len(text) <= _LONGEST_WORD else ""
    return f"{hint} {line}".strip()


def yaml_word(text: str) -> str:
    """A word as it stands in a list of YAML."""
    is_plain = re.fullmatch(r"[A-Za-z](?:[\w ./-]*\w)?", text) is not None
    return text if is_plain else '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
