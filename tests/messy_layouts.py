"""Layouts of bench workbooks by chance, each with what is true of it: how many does the draft read to the truth?

    PYTHONPATH=. python tests/messy_layouts.py [SEEDS]

All products, makers, people and readings are invented.
"""

from __future__ import annotations

import datetime
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.draft.column_roles import Role
from analysis.draft.findings import Findings, findings_of
from analysis.draft.raw_tables import RawTable, raw_table

Cells = list[list[object]]
Drawn = np.random.Generator


@dataclass(frozen=True)
class Truth:
    """What a person who looks at a workbook says of it.

    measures : by words, unit and how many readings a product has of it in a session; rows : how many rows are of products
    """

    header: tuple[int, ...]
    product: str
    rows: int
    measures: dict[str, tuple[str, int]]
    words: frozenset[str] = frozenset()
    sessions: str = ""
    specimens: str = ""
    slips: frozenset[str] = frozenset()
    other_unit: frozenset[tuple[str, str]] = frozenset()
    again: frozenset[str] = frozenset()
    usual: int = 0
    aside: frozenset[str] = frozenset()
    comma: bool = False
    attributes: frozenset[str] = frozenset()
    decimal_unit: str = ""


@dataclass(frozen=True)
class Layout:
    """A workbook, and the truth."""

    sheets: dict[str, Cells]
    truth: Truth
    file: str = "bench.xlsx"

    def tables(self) -> list[RawTable]:
        """Its sheets, as formats give them."""
        return [
            raw_table(cells, self.file, name if self.file.endswith("x") else "") for name, cells in self.sheets.items()
        ]


@dataclass(frozen=True)
class Bench:
    """What a bench has read of some beds: names of columns, and one row a bed."""

    ids: list[str]
    names: list[str]
    heads: list[str]
    rows: list[list[object]]
    measures: dict[str, tuple[str, int]]
    drawn: Drawn = field(repr=False, default_factory=np.random.default_rng)


QUANTITIES = (
    ("Noise", "dB", 32.0, 4.0, 1),
    ("Edge drop", "mm", 72.0, 14.0, 0),
    ("Surface heat", "°C", 33.0, 1.2, 1),
    ("Settling time", "s", 1.6, 0.4, 2),
    ("Rebound", "%", 35.0, 8.0, 0),
    ("Heat flux", "W/m2", 62.0, 9.0, 1),
    ("TVOC", "mg/m3", 0.3, 0.05, 2),
    ("Peak pressure", "kPa", 4.2, 0.5, 2),
)
SYLLABLES = ["bar", "mel", "osk", "tan", "vin", "dro", "fal", "gim", "hesk", "ild", "jor", "kav", "lun"]


def bench(drawn: Drawn, repeats: int = 1, mark: str = "#{n}", unit: str = "({unit})") -> Bench:
    """Eight to twenty invented beds with three to six measures, the first of which has `repeats`."""
    n_beds = int(drawn.integers(8, 21))
    shape = ("B-{n:03d}", "Q{n}", "2026/{n:02d}", "BX {n}")[int(drawn.integers(4))]
    ids = [shape.format(n=n + 11) for n in range(n_beds)]
    names = [
        "".join(SYLLABLES[int(i)] for i in drawn.integers(0, 13, 2)).title() + f" {chr(65 + n % 26)}{n}"
        for n in range(n_beds)
    ]
    chosen = [QUANTITIES[int(i)] for i in drawn.permutation(len(QUANTITIES))[: int(drawn.integers(3, 7))]]
    heads: list[str] = []
    columns: list[list[object]] = []
    measures: dict[str, tuple[str, int]] = {}
    for number, (words, of, middle, spread, places) in enumerate(chosen):
        n_repeats = repeats if number == 0 else 1
        truth = np.maximum(drawn.normal(middle, spread, n_beds), middle / 3)
        measures[words] = (of, n_repeats)
        for repeat in range(1, n_repeats + 1):
            marks = mark.format(n=repeat, letter="ABCD"[repeat - 1]) if n_repeats > 1 else ""
            heads.append(" ".join(f"{words} {unit.format(unit=of)} {marks}".split()))
            readings = truth + drawn.normal(0, spread / 20, n_beds)
            columns.append([round(float(one), places) for one in readings])
    rows = [list(row) for row in zip(*columns, strict=True)]
    return Bench(ids, names, heads, rows, measures, drawn)


def plain(own: Bench) -> Cells:
    """The table of a bench: ids and readings."""
    return [["Bed", *own.heads], *([one, *row] for one, row in zip(own.ids, own.rows, strict=True))]


def truth_of(own: Bench, header: tuple[int, ...] = (1,), **more: object) -> Truth:
    """The truth of a bench's plain table."""
    return replace(Truth(header, "Bed", len(own.ids), own.measures), **more)  # type: ignore[arg-type]


def title_and_date(drawn: Drawn) -> Layout:
    """A title, a day and a blank row above the header."""
    own = bench(drawn)
    above: Cells = [["Bench readings, invented"], ["Printed", datetime.date(2026, 3, 1)], []]
    return Layout({"Readings": above + plain(own)}, truth_of(own, (4,)))


def title_right_above(drawn: Drawn) -> Layout:
    """A title in the row above the header, with nothing between, in a middle column."""
    own = bench(drawn, repeats=2)
    return Layout({"Sheet1": [[None, None, "Spring readings"], *plain(own)]}, truth_of(own, (2,)))


def form_above(drawn: Drawn) -> Layout:
    """A form of words and what was filled in, above the header."""
    own = bench(drawn)
    form: Cells = [
        ["Laboratory:", "Invented Bench", None, "Sheet:", 4.0],
        ["Operator:", "K. Orrin", None, "Date:", "12.3.2026"],
        ["Room (degC):", 23.0],
        [],
        [],
    ]
    return Layout({"Protocol": form + plain(own)}, truth_of(own, (6,)))


def header_in_two_rows(drawn: Drawn) -> Layout:
    """The measure over its repeats, the others with nothing below."""
    own = bench(drawn, repeats=3)
    first = [head.rsplit(" ", 1)[0] if "#" in head else head for head in own.heads]
    upper: list[object] = [
        "Bed",
        *(head if index == 0 or head != first[index - 1] else None for index, head in enumerate(first)),
    ]
    lower: list[object] = [None, *(head.rsplit(" ", 1)[1] if "#" in head else None for head in own.heads)]
    return Layout({"Data": [["Invented"], [], upper, lower, *plain(own)[1:]]}, truth_of(own, (3, 4)))


def groups_above(drawn: Drawn) -> Layout:
    """The name of a measure over numbers of repeats, the other columns named in the lower row."""
    own = bench(drawn, repeats=3)
    words, unit = next(iter(own.measures)), next(iter(own.measures.values()))[0]
    upper: list[object] = [None, f"{words} ({unit})", None, None, *[None for _ in own.heads[3:]]]
    lower: list[object] = ["Bed", "#1", "#2", "#3", *own.heads[3:]]
    if len(own.heads) > 3:  # the lower row names all the rest, so that the upper may not go on over them
        upper[4:] = ["" for _ in own.heads[3:]]
    return Layout({"Data": [upper, lower, *plain(own)[1:]]}, truth_of(own, (1, 2)))


def row_of_units(drawn: Drawn) -> Layout:
    """Names in one row, units in the next."""
    own = bench(drawn, unit="")
    units: list[object] = ["", *(unit if drawn.integers(2) else f"[{unit}]" for unit, _ in own.measures.values())]
    table = plain(own)
    return Layout({"Data": [["Readings"], table[0], units, *table[1:]]}, truth_of(own, (2,)))


def summaries(drawn: Drawn) -> Layout:
    """An average, a standard deviation and extremes below, after a blank row."""
    own = bench(drawn)
    table = plain(own)
    sums: Cells = [[word, *(1.0 for _ in own.heads)] for word in ("Average", "Std dev", "Min", "Max")]
    return Layout({"Data": [*table, [], *sums]}, truth_of(own))


def summary_of_each_block(drawn: Drawn) -> Layout:
    """Blocks with a heading each and a mean below it."""
    own = bench(drawn)
    table = plain(own)
    half = len(table) // 2
    mean: list[object] = ["Mean", *(2.0 for _ in own.heads)]
    cells = [table[0], ["Spring readings"], *table[1:half], mean, [], ["Autumn readings"], *table[half:], mean]
    return Layout({"Data": cells}, truth_of(own))


def header_again(drawn: Drawn) -> Layout:
    """The header again in the middle, as on printed pages."""
    own = bench(drawn)
    table = plain(own)
    half = len(table) // 2
    return Layout({"Data": [*table[:half], table[0], *table[half:]]}, truth_of(own))


def remarks_below(drawn: Drawn) -> Layout:
    """Footnotes below the table."""
    own = bench(drawn)
    notes: Cells = [[], ["* cover changed after the second drop"], ["All at 23 degC."]]
    return Layout({"Data": [*plain(own), *notes]}, truth_of(own))


def another_table_below(drawn: Drawn) -> Layout:
    """A table of instruments below that of beds."""
    own = bench(drawn)
    other: Cells = [
        [],
        ["Instrument", "Serial", "Calibrated", "Drift"],
        ["Plate", "P-7", "2026-01-03", 0.2],
        ["Meter", "M-2", "2026-01-04", 0.1],
    ]
    return Layout({"Data": [*plain(own), *other]}, truth_of(own))


def beside_the_edge(drawn: Drawn) -> Layout:
    """An empty column in front, and a legend far right."""
    own = bench(drawn)
    cells = [[None, *row] for row in plain(own)]
    cells[2] = [*cells[2], None, None, "red: look again"]
    return Layout({"Data": [[], *cells]}, truth_of(own, (2,)))


def words_for_nobody(drawn: Drawn) -> Layout:
    """Numbered rows, who read it, notes, a name, a day."""
    own = bench(drawn)
    head: list[object] = ["No.", "Bed", "Model name", "Date", *own.heads, "Tested by", "Notes"]
    rows: Cells = [
        [
            float(n + 1),
            own.ids[n],
            own.names[n],
            datetime.date(2026, 3, 1 + n),
            *own.rows[n],
            ("KO", "TV")[n % 2],
            "see mail" if n == 2 else None,
        ]
        for n in range(len(own.ids))
    ]
    return Layout({"Data": [head, *rows]}, truth_of(own, attributes=frozenset({"Model name"})))


def gap_words(drawn: Drawn) -> Layout:
    """Words for what was not read, and limits."""
    own = bench(drawn)
    rows = [list(row) for row in own.rows]
    said = ("TBD", "-", "N/A", "n.d.", "not read", "#N/A", "pending")
    chosen = [said[int(i)] for i in drawn.permutation(len(said))[:4]]
    for number, word in enumerate(chosen):
        rows[number][number % len(own.heads)] = word
    rows[5][0] = "<0.05"
    table = plain(replace(own, rows=rows))
    return Layout({"Data": table}, truth_of(own, words=frozenset(word.casefold() for word in chosen)))


def repeats_without_sign(drawn: Drawn) -> Layout:
    """Repeats numbered or lettered at the end of the name."""
    mark = ("{n}", "run {n}", "({n})", "{letter}", "rep {n}", "- {n}")[int(drawn.integers(6))]
    own = bench(drawn, repeats=3, mark=mark)
    return Layout({"Data": plain(own)}, truth_of(own))


def repeat_before_unit(drawn: Drawn) -> Layout:
    """Repeats before the unit, units in square brackets."""
    own = bench(drawn, repeats=2)
    heads = []
    for head in own.heads:
        words = head.replace("(", "[").replace(")", "]")
        parts = words.rsplit(" ", 1)
        heads.append(
            f"{words.split(' [')[0]} {parts[1]} [{words.split('[')[1].split(']')[0]}]" if "#" in head else words
        )
    return Layout({"Data": plain(replace(own, heads=heads))}, truth_of(own))


def units_without_brackets(drawn: Drawn) -> Layout:
    """`Edge drop, mm`, `rebound %`, `noise_dB`."""
    unit = (", {unit}", "{unit}", "in {unit}")[int(drawn.integers(3))]
    own = bench(drawn, unit=unit)
    heads = [head.replace(" ,", ",") for head in own.heads]
    kept = {words: one for words, one in own.measures.items() if one[0] in ("dB", "mm", "°C", "s", "%", "kPa", "mg/m3")}
    if len(kept) < len(own.measures):
        columns = [i for i, words in enumerate(own.measures) if words in kept]
        heads = [heads[i] for i in columns]
        own = replace(own, rows=[[row[i] for i in columns] for row in own.rows], measures=kept)
    own = replace(own, heads=heads)
    return Layout({"Data": plain(own)}, truth_of(own)) if kept else title_and_date(drawn)


def rows_of_repeats(drawn: Drawn) -> Layout:
    """Three rows a bed, numbered in a column."""
    own = bench(drawn)
    rows: Cells = []
    for one, row in zip(own.ids, own.rows, strict=True):
        rows += [[one, float(run), *row] for run in (1, 2, 3)]
    return Layout({"Data": [["Bed", "Run", *own.heads], *rows]}, truth_of(own, rows=3 * len(own.ids), usual=3))


def merged_ids(drawn: Drawn) -> Layout:
    """Two rows a bed, its id in the first alone."""
    own = bench(drawn)
    rows: Cells = []
    for one, row in zip(own.ids, own.rows, strict=True):
        rows += [[one, *row], [None, *row]]
    return Layout({"Data": [["Bed", *own.heads], *rows]}, truth_of(own, rows=2 * len(own.ids), usual=2))


def session_each_sheet(drawn: Drawn) -> Layout:
    """A sheet a session, the header in another row of each."""
    own = bench(drawn)
    sheets = {
        "Spring": [["Spring"], *plain(own)],
        "Summer": [["Summer"], *plain(own)],
        "Autumn": [["Autumn"], [], *plain(own)],
    }
    return Layout(sheets, truth_of(own, (2,), rows=3 * len(own.ids), sessions="each sheet"))


def sheet_of_products(drawn: Drawn) -> Layout:
    """Products, a summary and charts on sheets of their own."""
    own = bench(drawn)
    products: Cells = [["Ref", "Name", "Brand", "Type", "RRP (EUR)"]]
    products += [
        [one, name, ("Dunmarrow", "Osk")[n % 2], ("foam", "spring", "latex")[n % 3], 500.0 + 10 * n]
        for n, (one, name) in enumerate(zip(own.ids, own.names, strict=True))
    ]
    summary: Cells = [["Bed", *own.heads], *plain(own)[1:4]]
    chart: Cells = [["x", "y"], *([float(n), n / 3] for n in range(20))]
    measures = own.measures | {"RRP": ("EUR", 1)}
    truth = truth_of(own, rows=2 * len(own.ids), measures=measures, attributes=frozenset({"Name", "Brand", "Type"}))
    sheets = {
        "Readings": plain(own),
        "Products": products,
        "Summary": summary,
        "Chart data": chart,
        "Notes": [["Ask K."]],
    }
    return Layout(sheets, replace(truth, aside=frozenset({"Summary", "Chart data", "Notes"})))


def column_of_sessions(drawn: Drawn) -> Layout:
    """A product has a row a session."""
    own = bench(drawn)
    rows: Cells = []
    for session in ("S1", "S2"):
        rows += [[one, session, *row] for one, row in zip(own.ids, own.rows, strict=True)]
    word = ("Session", "Campaign", "Batch", "Round")[int(drawn.integers(4))]
    return Layout({"Data": [["Bed", word, *own.heads], *rows]}, truth_of(own, rows=2 * len(own.ids), sessions=word))


def column_of_specimens(drawn: Drawn) -> Layout:
    """Two specimens a product."""
    own = bench(drawn)
    rows: Cells = []
    for one, row in zip(own.ids, own.rows, strict=True):
        rows += [[one, specimen, *row] for specimen in ("a", "b")]
    return Layout(
        {"Data": [["Bed", "Specimen", *own.heads], *rows]}, truth_of(own, rows=2 * len(own.ids), specimens="Specimen")
    )


def long_rows(drawn: Drawn) -> Layout:
    """A row a reading, in columns of other names."""
    own = bench(drawn)
    rows: Cells = []
    for one, row in zip(own.ids, own.rows, strict=True):
        for (words, (unit, _)), value in zip(own.measures.items(), row, strict=True):
            rows += [[one, "S1", words, float(n), value, unit, "KO"] for n in (1, 2)]
    measures = {words: (unit, 2) for words, (unit, _) in own.measures.items()}
    head = [
        "Bed",
        "Session",
        ("Test", "Parameter", "Property")[int(drawn.integers(3))],
        "Rep",
        ("Reading", "Result")[int(drawn.integers(2))],
        "Unit",
        "Tested by",
    ]
    return Layout({"Data": [head, *rows]}, truth_of(own, rows=len(rows), measures=measures, sessions="Session"))


def decimal_commas(drawn: Drawn) -> Layout:
    """Texts with decimal commas."""
    own = bench(drawn)
    rows = [[str(cell).replace(".", ",") for cell in row] for row in own.rows]
    return Layout({"": plain(replace(own, rows=rows))}, truth_of(own, comma=True), file="bench.csv")


def numbers_for_ids(drawn: Drawn) -> Layout:
    """Ids that are whole numbers."""
    own = bench(drawn)
    table = plain(own)
    cells = [table[0], *([float(4001 + 3 * n), *row[1:]] for n, row in enumerate(table[1:]))]
    return Layout({"Data": cells}, truth_of(own))


def names_alone(drawn: Drawn) -> Layout:
    """No id: the model names the products."""
    own = bench(drawn)
    cells: Cells = [["Model", *own.heads], *([name, *row] for name, row in zip(own.names, own.rows, strict=True))]
    return Layout({"Data": [["Invented readings"], [], *cells]}, truth_of(own, (3,), product="Model"))


def slipped_point(drawn: Drawn) -> Layout:
    """A reading ten times its neighbours, and one a tenth."""
    own = bench(drawn)
    rows = [list(row) for row in own.rows]
    row, column = int(drawn.integers(1, len(rows))), int(drawn.integers(len(own.heads)))
    other = (column + 1) % len(own.heads)
    rows[row][column] = round(float(str(rows[row][column])) * 10, 2)
    rows[0][other] = round(float(str(rows[0][other])) / 10, 3)
    cells = frozenset({f"{chr(66 + column)}{row + 2}", f"{chr(66 + other)}2"})
    return Layout({"Data": plain(replace(own, rows=rows))}, truth_of(own, slips=cells))


def slipped_repeat(drawn: Drawn) -> Layout:
    """One of three repeats ten times the others."""
    own = bench(drawn, repeats=3)
    rows = [list(row) for row in own.rows]
    rows[3][1] = round(float(str(rows[3][1])) * 10, 2)
    return Layout({"Data": plain(replace(own, rows=rows))}, truth_of(own, slips=frozenset({"C5"})))


def inches_under_mm(drawn: Drawn) -> Layout:
    """A header says mm, and some or all values are inches."""
    own = bench(drawn)
    drops = np.maximum(drawn.normal(72, 14, len(own.ids)), 30)
    some = int(drawn.integers(2))
    inches = [
        round(float(drop) / 25.4, 2) if not some or n % 3 == 0 else round(float(drop)) for n, drop in enumerate(drops)
    ]
    rows = [[*row, inch] for row, inch in zip(own.rows, inches, strict=True)]
    measures = {**own.measures, "Sit sink": ("mm", 1)}
    found = replace(own, heads=[*own.heads, "Sit sink (mm)"], rows=rows, measures=measures)
    return Layout({"Data": plain(found)}, truth_of(found, other_unit=frozenset({("Sit sink", "in")})))


def fahrenheit_under_celsius(drawn: Drawn) -> Layout:
    """A header says degC, and values are degF, or the other way."""
    own = bench(drawn)
    warm = drawn.normal(33, 1.2, len(own.ids))
    is_celsius = bool(drawn.integers(2))
    values = [round(float(one) * 1.8 + 32 if is_celsius else float(one), 1) for one in warm]
    rows = [[*row, one] for row, one in zip(own.rows, values, strict=True)]
    head, unit = ("Cover temp (°C)", "°C") if is_celsius else ("Cover temp (degF)", "degF")
    found = replace(own, heads=[*own.heads, head], rows=rows, measures={**own.measures, "Cover temp": (unit, 1)})
    meant = "degF" if is_celsius else "degC"
    return Layout({"Data": plain(found)}, truth_of(found, other_unit=frozenset({("Cover temp", meant)})))


def doubled_id(drawn: Drawn) -> Layout:
    """One id twice: typed wrong, or read again."""
    own = bench(drawn)
    table = plain(own)
    table[4][0] = table[3][0]
    return Layout({"Data": table}, truth_of(own, again=frozenset({str(table[3][0])})))


def header_on_two_lines(drawn: Drawn) -> Layout:
    """Line breaks within the cells of the header."""
    own = bench(drawn)
    heads = [head.replace(" (", "\n(") for head in own.heads]
    return Layout({"Data": plain(replace(own, heads=heads))}, truth_of(own))


def other_language(drawn: Drawn) -> Layout:
    """Means and notes in German."""
    own = bench(drawn)
    rows: Cells = [[one, *row, None] for one, row in zip(own.ids, own.rows, strict=True)]
    rows[1][-1] = "Bezug gewechselt"
    cells: Cells = [["Prüfling", *own.heads, "Bemerkung"], *rows, ["Mittelwert", *(1.5 for _ in own.heads)]]
    return Layout({"Tabelle1": cells}, truth_of(own, product="Prüfling"))


def gaps_in_columns(drawn: Drawn) -> Layout:
    """A measure that was read of few beds, and a column with a name and nothing in it."""
    own = bench(drawn)
    rows = [[*row, (12.5 if n < 3 else None), None] for n, row in enumerate(own.rows)]
    found = replace(own, heads=[*own.heads, "Odour (1)", "Spare"], rows=rows)
    found = replace(found, heads=[*own.heads, "Creep (mm)", "Spare"], measures={**own.measures, "Creep": ("mm", 1)})
    return Layout({"Data": plain(found)}, truth_of(found))


def means_beside(drawn: Drawn) -> Layout:
    """The mean of the repeats and their scatter beside them, and a rank."""
    own = bench(drawn, repeats=3)
    heads = [*own.heads[:3], "Mean", "SD", *own.heads[3:], "Rank"]
    rows: list[list[object]] = []
    for n, row in enumerate(own.rows):
        three = [float(str(one)) for one in row[:3]]
        rows.append(
            [*row[:3], round(float(np.mean(three)), 2), round(float(np.std(three)), 3), *row[3:], float((n * 7) % 11)]
        )
    return Layout({"Data": plain(replace(own, heads=heads, rows=rows))}, truth_of(own))


def heads_alike(drawn: Drawn) -> Layout:
    """Three columns of one name."""
    own = bench(drawn, repeats=3)
    heads = [head.split(" #")[0] for head in own.heads]
    return Layout({"Data": plain(replace(own, heads=heads))}, truth_of(own))


def limits_below_the_header(drawn: Drawn) -> Layout:
    """What readings are held against, in the first row."""
    own = bench(drawn)
    table = plain(own)
    return Layout({"Data": [table[0], ["Limit", *(50.0 for _ in own.heads)], *table[1:]]}, truth_of(own))


def shares_under_percent(drawn: Drawn) -> Layout:
    """A header says %, and a spreadsheet holds shares."""
    own = bench(drawn)
    rows = [[*row, round(float(drawn.uniform(0.1, 0.6)), 3)] for row in own.rows]
    found = replace(own, heads=[*own.heads, "Bounce %"], rows=rows, measures={**own.measures, "Bounce": ("%", 1)})
    return Layout({"Data": plain(found)}, truth_of(found, other_unit=frozenset({("Bounce", "shares of 1")})))


def three_rows_of_header(drawn: Drawn) -> Layout:
    """Measures over repeats, and units below them."""
    own = bench(drawn, repeats=2, unit="")
    words, units = list(own.measures), [unit for unit, _ in own.measures.values()]
    upper: list[object] = ["Bed", words[0], None, *words[1:]]
    lower: list[object] = [None, 1.0, 2.0, *(None for _ in words[1:])]
    below: list[object] = [None, units[0], units[0], *units[1:]]
    return Layout({"Data": [["Invented"], upper, lower, below, *plain(own)[1:]]}, truth_of(own, (2, 3)))


def turned_round(drawn: Drawn) -> Layout:
    """Products in columns, measures in rows: no recipe reads this, and the draft must say so."""
    own = bench(drawn)
    table = plain(own)
    cells = [list(row) for row in zip(*table, strict=True)]
    cells[0][0] = "Measure"
    return Layout({"Data": cells}, truth_of(own, aside=frozenset({"turned round"})))


def many_days(drawn: Drawn) -> Layout:
    """A day for each measure, and answers of yes and no."""
    own = bench(drawn)
    heads = [*(head for one in own.heads for head in (f"Date {one.split(' (')[0].lower()}", one)), "Label seen"]
    rows: list[list[object]] = []
    for n, row in enumerate(own.rows):
        days = [datetime.date(2026, 4, 1 + (n + k) % 28) for k in range(len(row))]
        rows.append([*(cell for pair in zip(days, row, strict=True) for cell in pair), ("yes", "no")[n % 2]])
    return Layout({"Data": plain(replace(own, heads=heads, rows=rows))}, truth_of(own))


LAYOUTS: tuple[Callable[[Drawn], Layout], ...] = (
    title_and_date, title_right_above, form_above, header_in_two_rows, groups_above, row_of_units, summaries,
    summary_of_each_block, header_again, remarks_below, another_table_below, beside_the_edge, words_for_nobody, gap_words,
    repeats_without_sign, repeat_before_unit, units_without_brackets, rows_of_repeats, merged_ids, session_each_sheet,
    sheet_of_products, column_of_sessions, column_of_specimens, long_rows, decimal_commas, numbers_for_ids, names_alone,
    slipped_point, slipped_repeat, inches_under_mm, fahrenheit_under_celsius, doubled_id, header_on_two_lines,
    other_language, gaps_in_columns, means_beside, heads_alike, limits_below_the_header, shares_under_percent,
    three_rows_of_header, turned_round, many_days,
)  # fmt: skip


def differences(layout: Layout, found: Findings) -> Iterator[str]:
    """What of the truth was not found, and what was found that is not so."""
    truth = layout.truth
    if truth.aside == {"turned round"}:
        yield from () if any("turned round" in one.why for one in found.set_aside) else ("it is turned round",)
        return
    if not found.looks:
        yield "no table"
        return
    first = found.looks[0]
    product = first.first(Role.PRODUCT)
    seen: dict[str, tuple[object, object]] = {
        "header": (truth.header, first.extent.header),
        "product": (truth.product, product.head.text if product else ""),
        "rows": (truth.rows, sum(len(look.extent.body) for look in found.looks)),
        "measures": (truth.measures, {one.words: (one.unit, one.repeats) for one in found.measures}),
        "words": (truth.words, frozenset(one.word.casefold() for one in found.words)),
        "slips": (truth.slips, frozenset(slip.cell for one in found.measures for slip in one.slips)),
        "unit": (
            truth.other_unit,
            frozenset((one.words, one.other_unit.unit) for one in found.measures if one.other_unit),
        ),
        "again": (truth.again, frozenset(one.product for second in found.second for one in second.again)),
        "usual": (truth.usual, max(second.usual for second in found.second)),
        "aside": (truth.aside, frozenset(one.called.removeprefix("sheet ") for one in found.set_aside)),
        "comma": (truth.comma, found.decimal_comma),
        "sessions": (truth.sessions, sessions_of(found)),
        "specimens": (truth.specimens, getattr(getattr(first.first(Role.SPECIMEN), "head", None), "text", "")),
        "attributes": (
            truth.attributes,
            frozenset(
                column.head.text for look in found.looks for column in look.of(Role.NAME, Role.MAKER, Role.CLASS)
            ),
        ),
    }
    for key, (true, is_found) in seen.items():
        if true != is_found:
            yield f"{key}: {true} is true, {is_found} was found"


def sessions_of(found: Findings) -> str:
    """How sessions were found to be told."""
    column = found.looks[0].first(Role.SESSION)
    if column is not None:
        return column.head.text
    return "each sheet" if found.alike.count(0) > 1 else ""


def main(seeds: int) -> None:
    """Count the layouts that are read to the truth, and print what is not."""
    from further_layouts import FURTHER  # which is made of what stands above

    n_true, n_all = 0, 0
    for number, make in enumerate((*LAYOUTS, *FURTHER)):
        for seed in range(seeds):
            layout = make(np.random.default_rng([number, seed]))
            wrong = list(differences(layout, findings_of(layout.tables())))
            n_all += 1
            n_true += not wrong
            for line in wrong:
                print(f"{make.__name__} {seed}: {line}")
    print(f"{n_true} of {n_all} layouts read to the truth ({len(LAYOUTS) + len(FURTHER)} kinds, {seeds} seeds)")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
