"""How many of the laboratory's own reasons for missing readings a publication holds, in words."""

from __future__ import annotations

from scoring.catalogue import Catalogue, reasons_published
from scoring.form import Form

BY = "`publish_reasons: yes`"
WHERE = "explain, appendix and record hold them"


def reasons_of(form: Form, catalogue: Catalogue | None) -> int:
    """How many reasons go out in the laboratory's words."""
    return 0 if catalogue is None else reasons_published(catalogue.readings.values(), form)


def reasons_in_words(form: Form, catalogue: Catalogue | None, where: str = WHERE) -> tuple[str, ...]:
    """How many they are, in one sentence; nothing where none goes out.

    where : what holds them, as a clause
    """
    count = reasons_of(form, catalogue)
    if not count:
        return ()
    what = "1 reason of the laboratory is" if count == 1 else f"{count} reasons of the laboratory are"
    them = where.replace("them", "it") if count == 1 else where
    return (f"{what} published ({BY}), in its own words: {them}.",)
