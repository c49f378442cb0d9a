"""Two processes that write the same file at the same moment, many times: run by `test_races.py`, in a process of its own.

`python raced.py correct|new N`: each pair has read what is there before either writes. Prints how often both, one or none
said that it was done, and how many of those that said so are in the file; as JSON.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from analysis.records.corrections import corrected
from analysis.records.document import keep_corrected, keep_new, read_record
from scoring.errors import SteelyardError

RECORD = Path(__file__).parents[1] / "record" / "data" / "format-1.json"


def both_at_once(work: Callable[[int], Callable[[], None]]) -> list[str]:
    """What each of two processes came to: "done", or its fault. `work` prepares; what it returns is done when both are ready."""
    ready, go, said = os.pipe(), os.pipe(), os.pipe()
    for number in (0, 1):
        if os.fork() == 0:
            write = work(number)
            os.write(ready[1], b".")
            os.read(go[0], 1)
            try:
                write()
                answer = "done"
            except SteelyardError as fault:
                answer = str(fault.problems[0])
            os.write(said[1], (json.dumps(answer) + "\n").encode())
            os._exit(0)
    for _ in (0, 1):
        os.read(ready[0], 1)
    os.write(go[1], b"..")
    for _ in (0, 1):
        os.wait()
    answers = [json.loads(line) for line in os.read(said[0], 65_536).splitlines()]
    for end in (*ready, *go, *said):
        os.close(end)
    return answers


def correcting(path: Path) -> Callable[[int], Callable[[], None]]:
    """Correct the record at `path`, each process with a cause of its own."""

    def prepare(number: int) -> Callable[[], None]:
        before = read_record(path)
        sections = {**before.latest.sections, "cautions": [f"Caution {number}."]}
        document = corrected(before, sections, "2025-05-01", f"cause {number}", str(path))
        return lambda: keep_corrected(path, document, before)

    return prepare


def publishing(path: Path) -> Callable[[int], Callable[[], None]]:
    """Write a first record at `path`, each process its own."""
    return lambda number: lambda: keep_new(path, {"record": number})


def campaign(way: str, times: int) -> dict[str, object]:
    """Race `times` pairs."""
    counts, kept, faults = {0: 0, 1: 0, 2: 0}, 0, set()
    for _ in range(times):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "r.json"
            if way == "correct":
                path.write_bytes(RECORD.read_bytes())
            answers = both_at_once((correcting if way == "correct" else publishing)(path))
            counts[answers.count("done")] += 1
            faults |= {answer.replace(folder, "DIR") for answer in answers if answer != "done"}
            kept += len(read_record(path).states) - 2 if way == "correct" else path.exists()
    return {"done": [counts[number] for number in (0, 1, 2)], "kept": kept, "faults": sorted(faults)}


if __name__ == "__main__":
    print(json.dumps(campaign(sys.argv[1], int(sys.argv[2]))))
