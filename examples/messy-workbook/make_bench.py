"""Make the messy workbook of an invented laboratory, and the same readings in four other formats.

Nothing here describes a real laboratory, maker, product or reading. All is drawn from one seed, so that every run gives
the same bytes.

    python make_bench.py [DIR]     writes bench.xlsx, bench.ods, bench.csv, products.csv, long.csv and bench.sqlite to DIR
"""

from __future__ import annotations

import argparse
import datetime
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from written_files import csv_bytes, ods_bytes, sqlite_bytes, xlsx_bytes

HERE = Path(__file__).resolve().parent
SEED = 20260314
TITLE = "Hollowmere Bench (invented) - bed readings 2026"
PRINTED = datetime.date(2026, 11, 6)
SESSIONS = ("Spring", "Summer", "Autumn")
DAYS = (datetime.date(2026, 3, 9), datetime.date(2026, 6, 15), datetime.date(2026, 9, 21))
PEOPLE = ("K. Orrin", "T. Vael", "M. Ashby-Rook")
MAKERS = ("Dunmarrow", "Filberquist", "Sandhollow & Daughters", "Veltrask", "Osk Beds")
CLASSES = ("spring", "foam", "hybrid", "latex")
NAMES = (
    "Alderfloe", "Barleymoon", "Cinderwick", "Duskfern", "Elmhush", "Fallowdown", "Gorsewell", "Hazelnook",
    "Inkberry", "Junipause", "Kelpdrift", "Larkspell", "Mosswarden", "Nettlehaven", "Oatmere", "Pinecradle",
    "Quincelow", "Rowanstill", "Sedgelight", "Tansyfold", "Umberlea", "Vetchmoor", "Willowhush", "Yarrowend",
    "Zinnialoft", "Ashenpool", "Brackensoft", "Cloverhithe", "Dockleaf", "Eyebrightly", "Flaxenby", "Gentianne",
    "Heatherlull", "Ivybourne", "Jasminder", "Knotgrasse", "Linnetrest", "Mallowmere", "Nightwort", "Ösierbed",
    "Plumbago", "Ragwortham", "Sorrelton", "Thistlenap", "Über-Daune",
)  # fmt: skip
#: What stands in the header of each column of readings, how many repeats it has, and its decimals.
NOISE, EDGE, SURFACE, SAG = "Noise (dB)", "Edge drop (in)", "Surface heat (°F) after 15 min", "Sag [mm]"
SETTLE, REBOUND, TVOC = "Settling time (s)", "Rebound %", "TVOC (mg/m3)"
REPEATS = {NOISE: 3, EDGE: 2, SURFACE: 1, SAG: 1, SETTLE: 2, REBOUND: 1, TVOC: 1}
DECIMALS = {NOISE: 1, EDGE: 2, SURFACE: 1, SAG: 0, SETTLE: 2, REBOUND: 0, TVOC: 2}
SCATTER = {NOISE: 0.8, EDGE: 0.05, SURFACE: 0.0, SAG: 0.0, SETTLE: 0.08, REBOUND: 0.0, TVOC: 0.0}
UNITS = {NOISE: "dB", EDGE: "in", SURFACE: "°F", SAG: "mm", SETTLE: "s", REBOUND: "%", TVOC: "mg/m3"}
#: Each class by measure: its middle and how far products scatter about it.
MIDDLES = {
    NOISE: ((36, 4), (28, 3), (32, 3), (27, 2)),
    EDGE: ((2.1, 0.4), (3.9, 0.6), (2.7, 0.5), (3.3, 0.5)),
    SURFACE: ((88.5, 1.2), (94.0, 1.5), (91.0, 1.2), (92.0, 1.0)),
    SAG: ((34, 6), (46, 8), (38, 6), (41, 6)),
    SETTLE: ((2.6, 0.5), (0.7, 0.2), (1.6, 0.4), (1.1, 0.2)),
    REBOUND: ((46, 5), (18, 5), (34, 5), (55, 4)),
    TVOC: ((0.11, 0.04), (0.34, 0.12), (0.22, 0.08), (0.15, 0.05)),
}
NOT_READ = {
    ("IB-104", TVOC, 1): "N/A",
    ("IB-113", TVOC, 1): "N/A",
    ("IB-127", TVOC, 1): "N/A",
    ("IB-136", SURFACE, 1): "N/A",
    ("IB-141", REBOUND, 1): "N/A",
    ("IB-109", NOISE, 3): "-",
    ("IB-118", NOISE, 2): "-",
    ("IB-118", NOISE, 3): "-",
    ("IB-130", SETTLE, 2): "TBD",
    ("IB-139", SAG, 1): "TBD",
    ("IB-144", REBOUND, 1): "TBD",
    ("IB-102", TVOC, 1): "<0.05",
    ("IB-134", TVOC, 1): "<0.05",
}
#: The bed that is read again in the session after its own, and the bed whose id was typed as its neighbour's.
READ_AGAIN, MISTYPED, TYPED_AS = "IB-105", "IB-122", "IB-121"
#: A point that slipped: 380 mm among forties.
TEN_TIMES = ("IB-131", SAG)
NOTES = {
    "IB-103": "see mail by K.",
    "IB-117": "cover changed after 2nd drop",
    "IB-131": "check sag??",
    "IB-140": "maker asked for a second look, do not publish yet",
}

Cell = str | float | datetime.date | None


@dataclass(frozen=True, slots=True)
class Bed:
    """One invented product."""

    id: str
    name: str
    maker: str
    kind: int
    price: int
    session: int


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the bench's sheet: what was read of a bed on a day; `readings` by header and repeat."""

    id: str
    name: str
    session: str
    day: datetime.date
    readings: dict[tuple[str, int], Cell]
    tested_by: str
    notes: str


def beds() -> list[Bed]:
    """The 45 beds."""
    drawn = np.random.default_rng([SEED, 0])
    made = []
    for i, name in enumerate(NAMES):
        kind = int(drawn.integers(len(CLASSES)))
        price = int(drawn.integers(29, 190)) * 10 - 1
        made.append(Bed(f"IB-{101 + i}", name, MAKERS[int(drawn.integers(len(MAKERS)))], kind, price, i // 15))
    return made


def rows() -> list[Row]:
    """What the bench wrote down, session by session, slips and all."""
    drawn = np.random.default_rng([SEED, 1])
    truths = {bed.id: {head: float(drawn.normal(*MIDDLES[head][bed.kind])) for head in REPEATS} for bed in beds()}
    written = []
    for session in range(len(SESSIONS)):
        again = [replace(bed, session=session) for bed in beds() if bed.id == READ_AGAIN and bed.session + 1 == session]
        for bed in [*(bed for bed in beds() if bed.session == session), *again]:
            written.append(_row(bed, truths[bed.id], drawn))
    return written


def _row(bed: Bed, truth: dict[str, float], drawn: np.random.Generator) -> Row:
    readings: dict[tuple[str, int], Cell] = {}
    for head, repeats in REPEATS.items():
        for repeat in range(1, repeats + 1):
            value = round(max(truth[head] + SCATTER[head] * float(drawn.normal()), 0.06), DECIMALS[head])
            value = value * 10 if (bed.id, head) == TEN_TIMES else value
            readings[head, repeat] = NOT_READ.get((bed.id, head, repeat), value)
    return Row(
        id=TYPED_AS if bed.id == MISTYPED else bed.id,
        name=bed.name,
        session=SESSIONS[bed.session],
        day=DAYS[bed.session] + datetime.timedelta(days=int(drawn.integers(12))),
        readings=readings,
        tested_by=PEOPLE[int(drawn.integers(len(PEOPLE)))],
        notes=NOTES.get(bed.id, ""),
    )


def heads() -> list[tuple[str, str]]:
    """The columns of readings: the measure's header, and the repeat's mark where there is more than one."""
    return [
        (head, f"#{repeat}" if repeats > 1 else "")
        for head, repeats in REPEATS.items()
        for repeat in range(1, repeats + 1)
    ]


def bench_table(head_rows: int) -> list[list[Cell]]:
    """The bench's sheet: a title, a date, the header in one row or two, the sessions with blanks between, an average."""
    before, behind = ["Bed", "Model", "Session", "Read on"], ["Tested by", "Notes"]
    table: list[list[Cell]] = [[TITLE], ["Printed", PRINTED], []]
    if head_rows == 1:
        table.append([*before, *(f"{head} {mark}".strip() for head, mark in heads()), *behind])
    else:
        first = [head if mark in ("", "#1") else None for head, mark in heads()]
        table.append([*before, *first, *behind])
        table.append([None, None, None, None, *(mark or None for _, mark in heads()), None, None])
    n_before = ""
    for row in rows():
        if n_before and row.session != n_before:
            table.append([])
        n_before = row.session
        cells = [row.readings[key] for key in _keys()]
        table.append([row.id, row.name, row.session, row.day, *cells, row.tested_by, row.notes or None])
    table += [[], ["Average", None, None, None, *_averages(), None, None]]
    return table


def _keys() -> list[tuple[str, int]]:
    return [(head, repeat) for head, repeats in REPEATS.items() for repeat in range(1, repeats + 1)]


def _averages() -> list[Cell]:
    found: list[Cell] = []
    for key in _keys():
        numbers = [row.readings[key] for row in rows()]
        found.append(round(float(np.mean([cell for cell in numbers if isinstance(cell, float)])), 2))
    return found


def product_table() -> list[list[Cell]]:
    """The sheet of products."""
    head: list[Cell] = ["Bed", "Name", "Maker", "Class", "Price (EUR)"]
    table = [head]
    for bed in beds():
        table.append([bed.id, bed.name, bed.maker, CLASSES[bed.kind], float(bed.price)])
    return table


def note_table() -> list[list[Cell]]:
    """A sheet that holds neither readings nor products."""
    lines = (
        "Remarks for ourselves",
        "Ask K. about the plate before Spring 2027.",
        "TVOC chamber was booked: N/A there.",
    )
    return [[line] for line in lines]


def long_table() -> list[list[Cell]]:
    """The same readings, a row each."""
    table: list[list[Cell]] = [["Bed", "Model", "Session", "Read on", "Test", "No", "Reading", "Unit", "Tested by"]]
    for row in rows():
        for (head, repeat), cell in row.readings.items():
            test = _bare(head)
            table.append(
                [row.id, row.name, row.session, row.day, test, float(repeat), cell, UNITS[head], row.tested_by]
            )
    return table


def _bare(head: str) -> str:
    """A header without its unit."""
    bare = head
    for unit in (f"({UNITS[head]})", f"[{UNITS[head]}]", UNITS[head] if head == REBOUND else ""):
        bare = bare.replace(unit, "") if unit else bare
    return " ".join(bare.split())


def contents() -> dict[str, bytes]:
    """Every file by its name."""
    bench, products = bench_table(1), product_table()
    sheets = {"Bench 2026": bench, "Products": products, "Remarks": note_table()}
    return {
        "bench.xlsx": xlsx_bytes(sheets),
        "bench.ods": ods_bytes(sheets | {"Bench 2026": bench_table(2)}),
        "bench.csv": csv_bytes(bench, ";", "windows-1252", ","),
        "products.csv": csv_bytes(products, ";", "windows-1252", ","),
        "long.csv": csv_bytes(long_table(), ",", "utf-8", "."),
        "bench.sqlite": sqlite_bytes({"readings": long_table(), "beds": products}),
    }


def main(arguments: list[str] | None = None) -> None:
    """Write the files into the folder named on the command line."""
    parser = argparse.ArgumentParser(description="Make the messy workbook and the same readings in other formats.")
    parser.add_argument("folder", nargs="?", type=Path, default=HERE, help="default: the script's own")
    folder: Path = parser.parse_args(arguments).folder
    if not folder.is_dir():
        parser.error(f"{folder}: not a folder; make it first")
    for name, content in contents().items():
        (folder / name).write_bytes(content)


if __name__ == "__main__":
    main()
