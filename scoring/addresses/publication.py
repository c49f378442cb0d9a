"""Which addresses are about what is printed of a score, or who is published, and move no value."""

from __future__ import annotations

import re

#: Of the formula, or of one rating or score.
OF_FORM = re.compile(r"(ranks|gates)\.|bands|scale\.show")
OF_OUTPUT = re.compile(r"(ratings|scores)\.[^.]+\.(ranks\.|bands(\.|$)|band_limits\.|jumps$|scale\.show)")


def is_of_publication(address: str) -> bool:
    """Whether an address is about what is printed of a score, or who is published."""
    return OF_FORM.match(address) is not None or OF_OUTPUT.match(address) is not None
