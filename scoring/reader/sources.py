"""The texts that a formula is read from: its own file, and the neighbour that it takes from."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

from scoring.document import Node, read_document
from scoring.errors import FormulaError, Place, Problem
from scoring.form import Source
from scoring.reader.fields import Reader
from scoring.reader.wording import clip

MOST_BYTES = 2_000_000
TOP_KEYS = (
    "formula",
    "version",
    "title",
    "note",
    "takes",
    "scale",
    "ranks",
    "bands",
    "bands_on",
    "constants",
    "attributes",
    "measures",
    "ratings",
    "scores",
    "gates",
    "cautions",
    "checklist",
)


def load_sources(path: Path) -> tuple[Source, ...]:
    """The text of a formula file, and of the neighbour that it takes from, if any."""
    text = _load(path, str(path))
    own = Source(str(path), text)
    name = _neighbour(read_document(text, str(path)))
    if name is None:
        return (own,)
    beside = path.parent / name
    return own, Source(str(beside), _load(beside, str(path)))


def _load(path: Path, named_in: str) -> str:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise FormulaError([Problem(Place(str(path)), "a file over 2 MB", "a formula")])
        return path.read_bytes().decode("utf-8")
    except UnicodeDecodeError as fault:
        place = Place(str(path))
        raise FormulaError([Problem(place, f"a byte that is not UTF-8 at {fault.start}", "UTF-8 text")]) from None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "no such path"
        hint = "" if named_in == str(path) else f"It is named under `takes` in {named_in}."
        raise FormulaError([Problem(Place(str(path)), reason, "a formula file that can be read", hint)]) from None


def _neighbour(root: Node) -> str | None:
    """The file named under `takes`, held to the formula's own folder and below."""
    taken = Reader(0, []).fields(root, "", TOP_KEYS, "a formula")
    node = taken.node_of("takes") if taken is not None else None
    problems: list[Problem] = []
    takes = Reader(0, problems).fields(node, "takes", ("file", "sections"), "`takes`")
    if takes is None:
        return None
    file = takes.text("file")
    parts = Path(file).parts
    if not file or "\x00" in file or Path(file).is_absolute() or ".." in parts:
        expected = "a file in the same folder or below, as `takes: {file: edition-7.yaml, sections: [measures]}`"
        problems.append(Problem(takes.place, f"`{clip(file)}` under takes", expected))
    if problems:
        raise FormulaError(problems)
    return file


def sources_sha256(sources: Sequence[Source]) -> str:
    """The hash of a formula: of its texts in order, each after its length; file names do not count."""
    digest = hashlib.sha256()
    for source in sources:
        text = source.text.encode("utf-8")
        digest.update(f"{len(text)}\n".encode())
        digest.update(text)
    return digest.hexdigest()
