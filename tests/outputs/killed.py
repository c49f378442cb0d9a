"""Kill a writer at each of its steps, for real, and look at what is left: run by `test_kills.py`, in a process of its own.

A step is anything that Python tells its audit hooks: opening, linking, renaming, removing. `python killed.py file|folder
[two-steps]` prints what was found, as JSON; `two-steps` is the way of a system that cannot exchange two names.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from analysis.outputs import whole_folders
from analysis.outputs.guard import Guard
from analysis.outputs.manifest import verify_folder
from analysis.outputs.whole_files import write_whole

OLD = {f"{name}.csv": b"old\n" * 20 for name in "abcd"}
NEW = {f"{name}.csv": b"new\n" * 20 for name in "bcde"}
NOTES = "notes.txt"
STEPS = ("open", "os.", "shutil.")


def killed_at(step: int, work: Callable[[], None]) -> bool:
    """Do the work in a process that kills itself at its `step`-th step; whether it came to that."""
    child = os.fork()
    if child:
        return os.WIFSIGNALED(os.waitpid(child, 0)[1])
    count = 0

    def hook(event: str, _: object) -> None:
        nonlocal count
        if event.startswith(STEPS):
            count += 1
            if count == step:
                os.kill(os.getpid(), signal.SIGKILL)

    sys.addaudithook(hook)
    work()
    os._exit(0)


def folder_case(home: Path, step: int) -> tuple[str, bool]:
    """What a killed run left of a folder: "old", "new", "absent" or "mixed"; and whether it was killed at all."""
    target = home / "out"
    whole_folders.write_folder(target, OLD, Guard(), by="score")
    (target / NOTES).write_text("mine", encoding="utf-8")
    was_killed = killed_at(step, lambda: whole_folders.write_folder(target, NEW, Guard(), by="score"))
    left = "absent"
    if target.exists():
        names = {path.name for path in target.iterdir()} - {"manifest.json"}
        contents = {name: (target / name).read_bytes() for name in names - {NOTES}}
        left = {json.dumps(sorted(OLD)): "old", json.dumps(sorted(NEW)): "new"}.get(
            json.dumps(sorted(contents)), "mixed"
        )
        if NOTES not in names or contents not in (OLD, NEW) or not verify_folder(target).holds:
            left = "mixed"
    whole_folders.write_folder(target, NEW, Guard(), by="score")
    assert {path.name for path in target.iterdir()} == {*NEW, NOTES, "manifest.json"}, "the next run lost something"
    return left, was_killed


def file_case(home: Path, step: int) -> tuple[str, bool]:
    """What a killed run left of a file."""
    target, marked = home / "out.json", b'{"written_by": "steelyard", "is": "%s"}'
    target.write_bytes(marked % b"old")
    was_killed = killed_at(step, lambda: write_whole(target, marked % b"new", Guard()))
    content = target.read_bytes() if target.exists() else b""
    left = {marked % b"old": "old", marked % b"new": "new", b"": "absent"}.get(content, "mixed")
    write_whole(target, marked % b"new", Guard())
    return left, was_killed


def campaign(case: Callable[[Path, int], tuple[str, bool]]) -> dict[str, int]:
    """Kill at the first step, the second, and so on, until a run comes to its end; what was left, counted."""
    found = {"kills": 0, "old": 0, "new": 0, "absent": 0, "mixed": 0, "not cleaned up": 0}
    step, was_killed = 0, True
    while was_killed:
        step += 1
        with tempfile.TemporaryDirectory() as folder:
            left, was_killed = case(Path(folder), step)
            found["not cleaned up"] += any(path.name.startswith(".") for path in Path(folder).iterdir())
        found["kills"] += was_killed
        found[left] += was_killed
    return found


if __name__ == "__main__":
    if "two-steps" in sys.argv:
        whole_folders.exchange = lambda one, other: False
    print(json.dumps(campaign(folder_case if sys.argv[1] == "folder" else file_case)))
