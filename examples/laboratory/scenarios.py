"""What happens to the invented laboratory later: a new method, a correction, an entry, a withdrawal, a slip, a bench rethought.

    python scenarios.py

writes a catalogue for each into the folder `later`, always the same bytes. README.md has the command lines, `expected` what
they print (`python scenarios.py --expected` writes it anew). Everything here is invented.
"""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).parent
Rows = list[dict[str, str]]
#: The new method's readings on the old one's: invented, as everything here.
SLOPE, SCATTER, SEED = 0.905, 1.2, 20_250_301


def read(name: str) -> Rows:
    """A table of the laboratory."""
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def written(rows: Rows) -> str:
    """A table as text."""
    stream = io.StringIO()
    writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()


def correction(items: Rows, readings: Rows) -> tuple[Rows, Rows]:
    """Edge sink of QB-021 was read from the wrong side: 11 mm more in every repeat."""
    for row in readings:
        if (row["id"], row["measure"]) == ("QB-021", "edge_sink_mm") and row["value"]:
            row["value"] = f"{float(row['value']) + 11:g}"
    return items, readings


def withdrawn_item(items: Rows, readings: Rows) -> tuple[Rows, Rows]:
    """QB-045 is withdrawn."""
    return [row for row in items if row["id"] != "QB-045"], [row for row in readings if row["id"] != "QB-045"]


def late_entry(items: Rows, readings: Rows) -> tuple[Rows, Rows]:
    """A hybrid whose every reading is its class's mean true value."""
    spec: dict[str, Any] = json.loads((HERE / "laboratory.json").read_text(encoding="utf-8"))
    means: dict[str, float] = spec["self_check"]["class_mean_true_values"]["hybrid"]
    like = next(row for row in items if row["class"] == "hybrid" and row["fire_evidence"] == "on_file")
    items = [*items, like | {"id": "QB-061", "model": "Latecomer"}]
    repeats = [row for row in readings if row["id"] == like["id"]]
    new = [row | {"id": "QB-061", "value": f"{means[row['measure']]:.6g}", "flag": ""} for row in repeats]
    return items, readings + new


def unit_slip_file(items: Rows, readings: Rows) -> tuple[Rows, Rows]:
    """QB-014's second heat flow is written down as 7.1 instead of 71."""
    for row in readings:
        if (row["id"], row["measure"], row["repeat"]) == ("QB-014", "heat_flux_w_m2", "2"):
            row["value"] = "7.1"
    return items, readings


def bridging(readings: Rows) -> Rows:
    """Eight items measured both ways: the mean of the old method, and the new method's reading."""
    spec: dict[str, Any] = json.loads((HERE / "laboratory.json").read_text(encoding="utf-8"))
    names = next(one["bridging_items"] for one in spec["scenarios"] if one["key"] == "method_change")
    rng = np.random.default_rng(SEED)
    rows: Rows = []
    for name in names:
        values = [
            float(r["value"]) for r in readings if (r["id"], r["measure"]) == (name, "heat_flux_w_m2") and r["value"]
        ]
        old = sum(values) / len(values)
        new = SLOPE * old + SCATTER * float(rng.standard_normal())
        rows.append({"product": name, "old": f"{old:.2f}", "new": f"{new:.2f}"})
    return rows


SCENARIOS: dict[str, Callable[[Rows, Rows], tuple[Rows, Rows]]] = {
    "correction": correction,
    "withdrawn_item": withdrawn_item,
    "late_entry": late_entry,
    "unit_slip_file": unit_slip_file,
}


def repeatability_alone(formula: str) -> str:
    """The formula as it stood before: of the errors of readings, what repeats show and nothing else."""
    before, block, after = formula.partition("\nerror_correlations:")
    rest = after.partition("\nratings:")[2]
    beyond = ("between_sessions:", "between_specimens:", "systematic:")
    kept = [line for line in before.splitlines() if not line.strip().startswith(beyond)]
    assert block
    return "\n".join(kept) + "\nratings:" + rest


def write_all(folder: Path) -> None:
    """Write every scenario's catalogue, the bridging items of the method change, and the formula with repeatability alone."""
    for name, change in SCENARIOS.items():
        items, readings = change(read("items.csv"), read("readings.csv"))
        (folder / name).mkdir(parents=True, exist_ok=True)
        (folder / name / "items.csv").write_text(written(items), encoding="utf-8")
        (folder / name / "readings.csv").write_text(written(readings), encoding="utf-8")
    formula = (HERE / "guest-bed.yaml").read_text(encoding="utf-8")
    (folder / "repeatability_alone.yaml").write_text(repeatability_alone(formula), encoding="utf-8")
    (folder / "bridging.csv").write_text(written(bridging(read("readings.csv"))), encoding="utf-8")


#: What to type for each, in this folder.
COMMANDS = {
    "method_change": "compare guest-bed.yaml guest-bed.yaml . --bridge heat_flux_w_m2=later/bridging.csv --score cool_night",
    "correction": "compare guest-bed.yaml guest-bed.yaml . --catalogue-new later/correction",
    "maker_challenge": "explain guest-bed.yaml . QB-009 --score two_abed --without noise_dba/3",
    "late_entry": "compare guest-bed.yaml guest-bed.yaml . --catalogue-new later/late_entry",
    "withdrawn_item": "compare guest-bed.yaml guest-bed.yaml . --catalogue-new later/withdrawn_item",
    "unit_slip_file": "score guest-bed.yaml later/unit_slip_file",
    "repeatability_alone": "stability later/repeatability_alone.yaml . --study study.yaml --score restless_night",
    "sessions_and_specimens": "stability guest-bed.yaml . --study study.yaml --score restless_night",
    "components_of_a_value": "explain guest-bed.yaml . QB-029 --score restless_night",
    "next_week": "reread guest-bed.yaml . --score restless_night --settle first",
}


def write_expected() -> None:
    """Run every command line, and keep what it prints."""
    (HERE / "expected").mkdir(exist_ok=True)
    write_all(HERE / "later")
    for name, line in COMMANDS.items():
        command = [str(Path(sys.executable).with_name("steelyard")), *line.split()]
        done = subprocess.run(command, cwd=HERE, capture_output=True, text=True, check=False)
        (HERE / "expected" / f"{name}.txt").write_text(done.stdout + done.stderr, encoding="utf-8")


if __name__ == "__main__":
    if "--expected" in sys.argv:
        write_expected()
    else:
        write_all(HERE / "later")
