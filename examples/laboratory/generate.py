"""Make the invented laboratory's items and readings from laboratory.json and its seed.

Nothing here describes a real maker, model, laboratory or reading. The steps are those written under
`generator.steps` in laboratory.json; every number comes from that file.

    python generate.py [DIR]     writes items.csv and readings.csv to DIR (as a rule this file's own folder)
"""

from __future__ import annotations

import argparse
import csv
import io
import json
from collections.abc import Iterable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

HERE = Path(__file__).resolve().parent
ITEM_COLUMNS = ("id", "maker", "model", "class", "session", "fire_evidence")

Spec = Mapping[str, Any]
Cell = tuple[str, str]


class Reading(NamedTuple):
    """One row of readings.csv; `value` is None where `flag` is "missing" or "not_applicable"."""

    id: str
    measure: str
    repeat: int
    value: Decimal | None
    unit: str
    flag: str
    session: str
    specimen: str


def read_spec(path: Path) -> dict[str, Any]:
    """The invented parameters, as laboratory.json holds them."""
    spec: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return spec


def stream(spec: Spec, number: int) -> np.random.Generator:
    """One of six separate random streams, numbered as `generator.streams` says."""
    child = np.random.SeedSequence(spec["generator"]["seed"]).spawn(6)[number]
    return np.random.Generator(np.random.PCG64(child))


def latent_correlation(spec: Spec) -> NDArray[np.float64]:
    """The correlation of the measures within a class, on the normal scale.

    Returns
    -------
    ndarray, shape (n_measures, n_measures); pairs that are not listed are 0
    """
    keys = measure_keys(spec)
    matrix = np.eye(len(keys))
    for pair in spec["latent_correlation"]["pairs"]:
        a, b = keys.index(pair["a"]), keys.index(pair["b"])
        matrix[a, b] = matrix[b, a] = pair["r"]
    return matrix


def true_values(spec: Spec) -> NDArray[np.float64]:
    """What each item truly is, before anybody measures it.

    Returns
    -------
    ndarray, shape (n_items, n_measures), each in list order and in its measure's unit; NaN: not applicable
    """
    measures, keys, ids = spec["measures"], measure_keys(spec), item_ids(spec)
    normals = stream(spec, 0)
    factor = np.linalg.cholesky(latent_correlation(spec))
    blocks = []
    for group in spec["classes"]:
        z = normals.standard_normal((group["items"], len(measures))) @ factor.T
        columns = [_from_normal(measure, group["key"], z[:, j]) for j, measure in enumerate(measures)]
        blocks.append(np.column_stack(columns))
    values = np.vstack(blocks)
    for twins in spec["twins"]:
        first, second = twins["same_true_values"]
        values[ids.index(second)] = values[ids.index(first)]
    for forced in spec["forced_values"]:
        values[ids.index(forced["id"]), keys.index(forced["measure"])] = forced["true_value"]
    return values


def rounded_readings(spec: Spec) -> dict[Cell, tuple[Decimal, ...]]:
    """Every repeat as first written down: recording slips in, no reporting limit yet, nothing missing yet.

    Returns
    -------
    dict from (item id, measure key) to the repeats at the measure's resolution; empty where not applicable
    """
    errors, values = stream(spec, 1), true_values(spec)
    cells: dict[Cell, tuple[Decimal, ...]] = {}
    for i, item in enumerate(item_ids(spec)):
        for j, measure in enumerate(spec["measures"]):
            error = measure["repeat_sd"] * errors.standard_normal(measure["repeats"])
            scale = values[i, j] if measure["repeat_sd_kind"] == "rel" else 1.0
            cells[item, measure["key"]] = _rounded(values[i, j] + scale * error, measure)
    resolution = {measure["key"]: Decimal(str(measure["resolution"])) for measure in spec["measures"]}
    for slip in spec["recording_slips"]:
        cell, position = (slip["id"], slip["measure"]), slip["repeat"] - 1
        recorded = Decimal(str(slip["recorded"])).quantize(resolution[slip["measure"]])
        cells[cell] = (*cells[cell][:position], recorded, *cells[cell][position + 1 :])
    return cells


def missing_repeats(spec: Spec) -> dict[Cell, tuple[bool, ...]]:
    """Which repeats were lost: all of a cell while the instrument was down, or single ones.

    A single loss counts from the left, and only while at least two repeats remain.
    """
    shape = (len(spec["items"]), len(spec["measures"]))
    down = stream(spec, 2).uniform(size=shape) < spec["missing"]["cell_rate"]
    chances, rate = stream(spec, 3), spec["missing"]["repeat_rate"]
    cells: dict[Cell, tuple[bool, ...]] = {}
    for i, item in enumerate(item_ids(spec)):
        for j, measure in enumerate(spec["measures"]):
            struck = chances.uniform(size=measure["repeats"]) < rate
            lost = struck & (np.cumsum(struck) <= measure["repeats"] - 2)
            cells[item, measure["key"]] = tuple(bool(down[i, j] or one) for one in lost)
    return cells


def readings(spec: Spec) -> tuple[Reading, ...]:
    """Every row of readings.csv: the items' own, then the check beds read again, then the second specimens."""
    return (*own_readings(spec), *check_bed_readings(spec), *second_specimen_readings(spec))


def own_readings(spec: Spec) -> tuple[Reading, ...]:
    """Each item in its own session, on one specimen: items in list order, then measures, then repeats from 1."""
    values, lost = rounded_readings(spec), missing_repeats(spec)
    rows: list[Reading] = []
    for item in spec["items"]:
        for measure in spec["measures"]:
            cell, unit = (item["id"], measure["key"]), measure["unit"]
            shown: Iterable[Decimal | None] = values[cell] or (None,) * measure["repeats"]
            for repeat, (value, is_lost) in enumerate(zip(shown, lost[cell], strict=True), start=1):
                kept, flag = _recorded(value, is_lost, measure)
                rows.append(Reading(*cell, repeat, kept, unit, flag, item["session"], "a"))
    return tuple(rows)


def check_bed_readings(spec: Spec) -> tuple[Reading, ...]:
    """The check beds in the sessions that are not their own: each measure moves by the difference of the two shifts."""
    errors, values, conditions = stream(spec, 4), true_values(spec), spec["conditions"]
    sessions = conditions["sessions"]
    rows: list[Reading] = []
    for session in sessions:
        for item in conditions["check_beds"]:
            i = item_ids(spec).index(item)
            own = spec["items"][i]["session"]
            if session == own:
                continue
            for j, measure in enumerate(spec["measures"]):
                if (between := conditions["between_sessions"].get(measure["key"])) is None:
                    continue
                move = between["shifts"][sessions.index(session)] - between["shifts"][sessions.index(own)]
                size = values[i, j] if between["sd_kind"] == "rel" else 1.0
                shown = _repeats(values[i, j] + size * between["sd"] * move, values[i, j], measure, errors)
                rows += _rows(item, measure, shown, session, "a")
    return tuple(rows)


def second_specimen_readings(spec: Spec) -> tuple[Reading, ...]:
    """A specimen b of some items, read as often as the first and in the same session."""
    errors, values, second = stream(spec, 5), true_values(spec), spec["conditions"]["second_specimens"]
    j = measure_keys(spec).index(second["measure"])
    measure = spec["measures"][j]
    rows: list[Reading] = []
    for name in second["items"]:
        i = item_ids(spec).index(name)
        moved = values[i, j] * (1 + np.sqrt(2) * second["sd_rel"] * errors.standard_normal())
        rows += _rows(name, measure, _repeats(moved, moved, measure, errors), spec["items"][i]["session"], "b")
    return tuple(rows)


def items_csv_text(spec: Spec) -> str:
    """The text of items.csv: one row an item, LF line ends."""
    return _csv_text(ITEM_COLUMNS, ([item[column] for column in ITEM_COLUMNS] for item in spec["items"]))


def readings_csv_text(spec: Spec) -> str:
    """The text of readings.csv: one row a repeat, values at the measure's resolution, LF line ends."""
    return _csv_text(Reading._fields, readings(spec))


def item_ids(spec: Spec) -> list[str]:
    """The items' ids in list order."""
    return [item["id"] for item in spec["items"]]


def measure_keys(spec: Spec) -> list[str]:
    """The measures' keys in list order."""
    return [measure["key"] for measure in spec["measures"]]


def _from_normal(measure: Mapping[str, Any], group: str, z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard normals turned into one class's true values of a measure, held to its plausible range."""
    moments = measure["class_mean_sd"][group]
    if moments is None:
        return np.full(z.shape, np.nan)
    mean, sd = moments["mean"], moments["sd"]
    if measure["distribution"] == "normal":
        values = mean + sd * z
    elif measure["distribution"] == "lognormal":
        log_variance = np.log(1 + (sd / mean) ** 2)
        values = np.exp(np.log(mean) - log_variance / 2 + np.sqrt(log_variance) * z)
    else:
        raise ValueError(f"{measure['key']}: unknown distribution {measure['distribution']!r}")
    held: NDArray[np.float64] = np.clip(values, measure["plausible_low"], measure["plausible_high"])
    return held


def _repeats(
    centre: float, size: float, measure: Mapping[str, Any], errors: np.random.Generator
) -> tuple[Decimal, ...]:
    """Repeats about `centre`, with the measure's repeat scatter; `size` is what a relative one is a share of."""
    scale = size if measure["repeat_sd_kind"] == "rel" else 1.0
    return _rounded(centre + scale * measure["repeat_sd"] * errors.standard_normal(measure["repeats"]), measure)


def _rows(
    item: str, measure: Mapping[str, Any], shown: Iterable[Decimal], session: str, specimen: str
) -> Iterable[Reading]:
    """Rows of one item, session and specimen, repeats from 1."""
    for repeat, value in enumerate(shown, start=1):
        kept, flag = _recorded(value, False, measure)
        yield Reading(item, measure["key"], repeat, kept, measure["unit"], flag, session, specimen)


def _rounded(values: NDArray[np.float64], measure: Mapping[str, Any]) -> tuple[Decimal, ...]:
    """Readings rounded to the measure's resolution, halves to even; none where the measure does not apply."""
    if np.isnan(values).any():
        return ()
    resolution = Decimal(str(measure["resolution"]))
    return tuple(int(steps) * resolution for steps in np.rint(values / measure["resolution"]))


def _recorded(value: Decimal | None, is_lost: bool, measure: Mapping[str, Any]) -> tuple[Decimal | None, str]:
    """What is written for one repeat: its value and its flag."""
    if value is None:
        return None, "not_applicable"
    if is_lost:
        return None, "missing"
    if measure["reporting_limit"] is not None:
        limit = Decimal(str(measure["reporting_limit"])).quantize(value)
        if value < limit:
            return limit, "below"
    return value, ""


def _csv_text(columns: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """Comma-separated text with LF line ends; None is written as an empty field."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return text.getvalue()


def main(arguments: list[str] | None = None) -> None:
    """Write items.csv and readings.csv into the folder named on the command line."""
    parser = argparse.ArgumentParser(description="Make the invented laboratory's items.csv and readings.csv.")
    parser.add_argument("folder", nargs="?", type=Path, default=HERE, help="default: the script's own")
    folder: Path = parser.parse_args(arguments).folder
    if not folder.is_dir():
        parser.error(f"{folder}: not a folder; make it first")
    spec = read_spec(HERE / "laboratory.json")
    for name, text in (("items.csv", items_csv_text(spec)), ("readings.csv", readings_csv_text(spec))):
        (folder / name).write_bytes(text.encode("utf-8"))


if __name__ == "__main__":
    main()
