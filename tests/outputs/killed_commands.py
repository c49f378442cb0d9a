"""Kill real commands while they write a folder, and count what is left: by hand, since it takes minutes.

`python tests/outputs/killed_commands.py score|appendix|sensitivity N`: N runs over the folder of a run before, with another
setting; each is killed at a random moment after its first half-written file is seen. `killed.py` kills at every step instead.
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from analysis.outputs.manifest import read_manifest, verify_folder
from analysis.outputs.whole_files import PART

LABORATORY = Path(__file__).parents[2] / "examples" / "laboratory"
RUN = [sys.executable, "-c", "from analysis.cli.start import main; main()"]
#: No longer than this after the first half-written file, in seconds.
WITHIN = 0.05


def command(name: str, out: Path, weight: float) -> list[str]:
    """The command with a weight of its own."""
    setting = ["--set", f"scores.two_abed.weights.quiet={weight}"]
    draws = {"sensitivity": ["--draws", "64", "--score", "two_abed"]}.get(name, [])
    files = [str(LABORATORY / "guest-bed.yaml"), str(LABORATORY)]
    return [*RUN, name, *files, *setting, *draws, "--out", str(out)]


def is_writing(folder: Path) -> bool:
    """Whether something half-written stands beside the folder."""
    return any(path.name.endswith(PART) for path in folder.parent.iterdir())


def killed(arguments: list[str], out: Path, moment: float) -> bool:
    """Kill the command a moment after it begins to write; whether it was still at it."""
    process = subprocess.Popen(arguments, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    while process.poll() is None and not is_writing(out):
        time.sleep(0.0005)
    time.sleep(moment)
    process.kill()
    return process.wait() != 0


def main(name: str, times: int) -> None:
    """Kill, look, count."""
    chance = random.Random(0)
    counts = {"killed": 0, "old": 0, "new": 0, "absent": 0, "mixed": 0, "left a part": 0, "part after the next run": 0}
    with tempfile.TemporaryDirectory() as place:
        out = Path(place) / "out"
        whole = {}
        for weight in (0.2, 0.3):
            subprocess.run(command(name, out, weight), check=True, stdout=subprocess.DEVNULL)
            whole[weight] = read_manifest(out)
        assert whole[0.2] != whole[0.3]
        now = 0.3
        for _ in range(times):
            before, now = now, 0.2 if now == 0.3 else 0.3
            counts["killed"] += killed(command(name, out, now), out, chance.uniform(0, WITHIN))
            there = read_manifest(out) if out.exists() else None
            state = "absent" if there is None else {whole[before]: "old", whole[now]: "new"}.get(there, "mixed")
            if there is not None and not verify_folder(out).holds:
                state = "mixed"
            counts[state] += 1
            counts["left a part"] += is_writing(out)
            subprocess.run(command(name, out, now), check=True, stdout=subprocess.DEVNULL)
            counts["part after the next run"] += is_writing(out)
    sys.stdout.write(f"{name}: {counts}\n")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
