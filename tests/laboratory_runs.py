"""Command lines on the invented laboratory, each run once in a whole run of the tests, by whichever worker asks first."""

from __future__ import annotations

import contextlib
import hashlib
import importlib.util
import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from typer.testing import CliRunner

from analysis.cli.main import app
from analysis.outputs.whole_files import locked

LABORATORY = Path(__file__).resolve().parents[1] / "examples" / "laboratory"
#: Commands that write their document beside what they print: one run serves tests of either.
WITH_DOCUMENT = ("compare", "reread", "sensitivity", "stability", "weights")
FILES = ("guest-bed.yaml", "items.csv", "readings.csv", "study.yaml")


def scenarios() -> Any:
    """The laboratory's own script of what happens later."""
    found = importlib.util.spec_from_file_location("laboratory_scenarios", LABORATORY / "scenarios.py")
    assert found is not None
    assert found.loader is not None
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


#: The documented command lines of what happens later, by the name of the event.
LATER: dict[str, str] = scenarios().COMMANDS


def once(folder: Path, make: Callable[[Path], None]) -> Path:
    """A folder that whoever asks first fills; others wait, and find it whole."""
    with locked(folder):
        if not folder.exists():
            part = folder.with_name(f"{folder.name}.part")
            shutil.rmtree(part, ignore_errors=True)
            part.mkdir()
            make(part)
            part.rename(folder)
    return folder


@dataclass(frozen=True, slots=True)
class Run:
    """What a command line gave: its exit code, both outputs, and the document of a command that writes one besides."""

    exit_code: int
    stdout: str
    stderr: str
    document: dict[str, Any]


@dataclass(frozen=True, slots=True)
class LaboratoryRuns:
    """A folder of the whole run, with a copy of the laboratory and what command lines in it gave."""

    shared: Path

    @property
    def laboratory(self) -> Path:
        """The copy, with the catalogues of what happened later. Nothing may be written into it."""
        return once(self.shared / "laboratory", _write_laboratory)

    def run(self, line: str) -> Run:
        """A command line, run in the copy; where it can, it writes its document too, of which standard output says nothing."""
        laboratory = self.laboratory
        words = line.split()
        writes = words[0] in WITH_DOCUMENT and "--json" not in words
        key = hashlib.sha256(line.encode()).hexdigest()[:16]

        def make(folder: Path) -> None:
            written = folder / "document.json"
            more = ["--out", str(written)] if writes else []
            with contextlib.chdir(laboratory):
                result = CliRunner().invoke(app, [*words, *more])
            kept = [
                row for row in result.stdout.splitlines(keepends=True) if not row.startswith(f"Written to {written}")
            ]
            found = {"exit_code": result.exit_code, "stdout": "".join(kept), "stderr": result.stderr}
            (folder / "run.json").write_text(json.dumps(found), encoding="utf-8")

        folder = once(self.shared / key, make)
        found = json.loads((folder / "run.json").read_bytes())
        written = folder / "document.json"
        return Run(**found, document=json.loads(written.read_bytes()) if written.exists() else {})


def write_few_beds(folder: Path) -> Path:
    """A catalogue of sixteen of the laboratory's beds, some of which have no score."""
    names = {f"QB-{number:03}" for number in (*range(1, 11), 19, 21, 29, 37, 39, 45)}
    folder.mkdir(exist_ok=True)
    for name in ("items.csv", "readings.csv"):
        header, *rows = (LABORATORY / name).read_text(encoding="utf-8").splitlines(keepends=True)
        kept = [row for row in rows if row.split(",", 1)[0] in names]
        (folder / name).write_text("".join([header, *kept]), encoding="utf-8")
    return folder


def _write_laboratory(folder: Path) -> None:
    for name in FILES:
        shutil.copy(LABORATORY / name, folder / name)
    scenarios().write_all(folder / "later")
