"""Reading a project file: every fault gathered with its file, line and column, a file that is not there among them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from analysis.project.nouns import PROJECT, Project
from scoring.errors import FormulaError, Place, Problem, SteelyardError, nearest_file
from scoring.reader.declared import made
from scoring.reader.fields import Fields, Reader
from scoring.reader.sources import YAML_ENDINGS
from scoring.reader.wording import clip, describe
from scoring.table_formats import ENDINGS
from scoring.texts.document import Mapping as MappingNode
from scoring.texts.document import Node, read_document
from scoring.texts.file_limits import FORMULA_BYTES
from scoring.texts.input_files import decoded, file_bytes


class ProjectError(SteelyardError):
    """A project file cannot be read, or names what is not there."""


def read_project(path: Path) -> Project:
    """The project of a file.

    Raises
    ------
    ProjectError : every fault of the file
    """
    try:
        text = decoded(file_bytes(path, FORMULA_BYTES), str(path), "Save the file in UTF-8.")
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "no such path"
        raise ProjectError([Problem(Place(str(path)), reason, "a project file that can be read")]) from None
    if isinstance(text, Problem):
        raise ProjectError([text])
    problems: list[Problem] = []
    try:
        root = read_document(text.removeprefix("\ufeff"), str(path))
    except FormulaError as fault:
        raise ProjectError(fault.problems) from None
    project = _read(root, Reader(0, problems, whole="the project"), path)
    if problems or project is None:
        raise ProjectError(sorted(set(problems), key=lambda problem: problem.place))
    return project


def _read(root: Node, reader: Reader, path: Path) -> Project | None:
    fields = reader.noun(root, "", PROJECT)
    if fields is None:
        return None
    editions = _editions(fields)
    project = made(PROJECT, fields, editions=editions, source=str(path), folder=str(path.parent))
    for key in ("formula", "readings", "study"):
        node = fields.node_of(key)
        if node is not None:
            _check_there(node, fields.text(key), fields, key)
    return project


def _editions(fields: Fields) -> Mapping[str, str]:
    """Formula files by the names of their editions; a name is one word of a command line."""
    node, editions = fields.node_of("editions"), dict[str, str]()
    if node is None:
        return editions
    if not isinstance(node, MappingNode):
        fields.reader.fault(node.place, describe(node), "formula files by name, as `{2025: 2025/beds.yaml}`")
        return editions
    for name, value in node.entries:
        address = f"editions.{name.text}"
        if (
            not name.text.strip()
            or name.text.startswith("-")
            or Path(name.text).suffix.lower() in (*YAML_ENDINGS, *ENDINGS)
        ):
            expected = "a name that is no option and does not end as a file"
            fields.reader.fault(name.place, f"the name `{clip(name.text)}` of an edition", expected)
        file = fields.reader.text(value, address)
        if file:
            _check_there(value, file, fields, address)
        editions[name.text] = file
    return editions


def _check_there(node: Node, file: str, fields: Fields, key: str) -> None:
    """Report a file that is not there, and a name that cannot be one."""
    reader, folder = fields.reader, Path(fields.place.source).parent
    is_folder_too = key == "readings"
    expected = "a file or folder" if is_folder_too else "a file"
    try:
        is_there = (folder / file).exists() if is_folder_too else (folder / file).is_file()
    except (OSError, ValueError):
        is_there = False
    if file and not is_there:
        endings = (*ENDINGS, *YAML_ENDINGS) if is_folder_too else YAML_ENDINGS
        hint = nearest_file(folder / file, endings) if "\x00" not in file else ""
        reader.fault(
            node.place, f"`{clip(file)}` for {key}, which is not there", f"{expected}, as it lies from {folder}", hint
        )
