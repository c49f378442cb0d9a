"""The texts that a formula is read from: its own file, and the neighbour that it takes from."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from scoring.errors import FormulaError, Place, Problem, nearest_file
from scoring.form import TAKES
from scoring.reader.fields import Reader
from scoring.reader.wording import clip
from scoring.texts.document import Mapping, Node, read_document
from scoring.texts.file_limits import FORMULA_BYTES
from scoring.texts.input_files import decoded, file_bytes
from scoring.texts.source import Source

YAML_ENDINGS = (".yaml", ".yml")


@dataclass(frozen=True, slots=True)
class Written:
    """A text that a formula is read from, and its document."""

    source: Source
    root: Node


def load_sources(path: Path) -> tuple[Source, ...]:
    """The text of a formula file, and of the neighbour that it takes from, if any."""
    return tuple(written.source for written in load_written(path))


def load_written(path: Path) -> tuple[Written, ...]:
    """A formula file and the neighbour that it takes from, if any, each parsed once."""
    own = _written(path, str(path))
    name = _neighbour(own.root, path.parent)
    return (own,) if name is None else (own, _written(path.parent / name, str(path)))


def _written(path: Path, named_in: str) -> Written:
    source = Source(str(path), _load(path, named_in))
    return Written(source, read_document(source.text, source.name))


def _load(path: Path, named_in: str) -> str:
    try:
        hint = "Save the file in UTF-8; the text editor asks for it as `encoding`."
        text = decoded(file_bytes(path, FORMULA_BYTES), str(path), hint)
        if isinstance(text, Problem):
            raise FormulaError([text])
        return text
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "no such path"
        hint = nearest_file(path, YAML_ENDINGS) if isinstance(fault, FileNotFoundError) else ""
        hint += "" if named_in == str(path) else f" It is named under `takes` in {named_in}."
        hint = hint.strip()
        raise FormulaError([Problem(Place(str(path)), reason, "a formula file that can be read", hint)]) from None


def _neighbour(root: Node, folder: Path) -> str | None:
    """The file named under `takes`, held to the formula's own folder and below, through links too."""
    entries = root.entries if isinstance(root, Mapping) else ()
    node = next((value for key, value in entries if key.text == "takes"), None)
    problems: list[Problem] = []
    takes = Reader(0, problems).noun(node, "takes", TAKES)
    if takes is None:
        return None
    file = takes.text("file")
    parts = Path(file).parts
    if not file or "\x00" in file or Path(file).is_absolute() or ".." in parts:
        expected = "a file in the same folder or below, as `takes: {file: edition-7.yaml, sections: [measures]}`"
        problems.append(Problem(takes.place, f"`{clip(file)}` under takes", expected))
    elif leads_out(folder, file):
        expected = "a file that lies in the formula's folder or below"
        hint = "Put a copy of the file there."
        problems.append(Problem(takes.place, f"`{clip(file)}` under takes, a link out of the folder", expected, hint))
    if problems:
        raise FormulaError(problems)
    return file


def leads_out(folder: Path, file: str) -> bool:
    """Whether a file lies elsewhere once every link is followed; what stands there is not looked at."""
    try:
        return not (folder / file).resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError):  # links that go round in a circle
        return True


def sources_sha256(sources: Sequence[Source]) -> str:
    """The hash of a formula: of its texts in order, each after its length; file names do not count."""
    digest = hashlib.sha256()
    for source in sources:
        text = source.text.encode("utf-8")
        digest.update(f"{len(text)}\n".encode())
        digest.update(text)
    return digest.hexdigest()
