"""The guesses that stand in what a publication is made from: its formula, and the recipe that its catalogue was read by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from analysis.draft.marked import MARK, Standing, decisions_in, standing_guesses
from scoring.catalogue import Catalogue
from scoring.catalogue.files import recipe_at
from scoring.errors import Place, Problem
from scoring.form import Form
from scoring.texts.file_limits import FORMULA_BYTES
from scoring.texts.input_files import file_bytes

DECIDED = "the guess decided, before anything is published"


def draft_of(form: Form, catalogue: Catalogue | None) -> tuple[Standing, ...]:
    """The files in which guesses stand, the formula's first; none of a finished formula."""
    return tuple(standing_guesses({Path(name).name: text for name, text in _texts(form, catalogue).items()}))


def guesses_of(draft: Sequence[Standing]) -> int:
    """How many guesses stand."""
    return sum(one.guesses for one in draft)


def decisions_of(draft: Sequence[Standing]) -> int:
    """How many of them say that a human must decide."""
    return sum(one.decisions for one in draft)


def guesses_counted(draft: Sequence[Standing]) -> str:
    """How many guesses stand, in words."""
    number = guesses_of(draft)
    return "1 guess" if number == 1 else f"{number} guesses"


def called_draft(draft: Sequence[Standing]) -> str:
    """What a heading says behind the name of a formula; "" where no guess stands."""
    return f"a draft with {guesses_counted(draft)}" if draft else ""


def draft_in_words(draft: Sequence[Standing]) -> str:
    """How many guesses stand, where, and how many a human must decide; "" where none does."""
    if not draft:
        return ""
    guesses, decisions = guesses_of(draft), decisions_of(draft)
    verb = "stands" if guesses == 1 else "stand"
    decided = ""
    if decisions:
        decided = f", {decisions} of which must be decided first" if guesses > 1 else " and must be decided"
    where = [f"{one.file}, from line {one.first} on" for one in draft]
    return f"a draft: {guesses_counted(draft)} {verb}{decided} ({'; '.join(where)})"


def draft_sentence(draft: Sequence[Standing]) -> str:
    """The same as a sentence of its own."""
    said = draft_in_words(draft)
    return f"{said[:1].upper()}{said[1:]}." if said else ""


def draft_key(draft: Sequence[Standing]) -> dict[str, list[dict[str, Any]]]:
    """What a JSON document says of it: a key where guesses stand, and nothing of a finished formula."""
    return {"draft": [asdict(one) for one in draft]} if draft else {}


def undecided(form: Form, catalogue: Catalogue) -> list[Problem]:
    """The guesses that a human must decide, each as a fault of what is to be published, with its file and line."""
    return [
        Problem(
            Place(name, line),
            f"a guess that stands: {because}",
            DECIDED,
            f"Decide it and take the mark `{MARK}` away.",
        )
        for name, text in _texts(form, catalogue).items()
        for line, because in decisions_in(text)
    ]


def _texts(form: Form, catalogue: Catalogue | None) -> dict[str, str]:
    """The texts of the formula and of the recipe that a catalogue was read by, by the paths of their files."""
    texts = {source.name: source.text for source in form.sources}
    recipe = recipe_at(Path(catalogue.source), []) if catalogue is not None else None
    if recipe is not None:
        # it was read as a recipe before: its lines are all that is asked for here
        texts[str(recipe)] = file_bytes(recipe, FORMULA_BYTES).decode("utf-8", errors="replace")
    return texts
