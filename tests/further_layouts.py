"""More layouts of bench workbooks by chance, each with what is true of it: what benches leave around their tables."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import replace

from messy_layouts import Bench, Cells, Drawn, Layout, bench, plain, truth_of


def body(own: Bench) -> Cells:
    """The rows of a bench's table: ids and readings."""
    return plain(own)[1:]


def report_of_a_laboratory(drawn: Drawn) -> Layout:
    """A report: a form above, numbered rows, means below the second column, a signature."""
    own = bench(drawn, repeats=2)
    form: Cells = [
        ["INVENTED BENCH CO."],
        ["Test report no. 2026-118"],
        ["Customer", "Dunmarrow", "", "Standard", "house method 4"],
        ["Room", "23 °C", "", "RH", "50 %"],
        [],
    ]
    head: list[object] = ["Pos.", "Ref.", *own.heads, "Remarks"]
    rows: Cells = [[float(n), *row, "" if n > 1 else "new cover"] for n, row in enumerate(body(own), start=1)]
    sums: Cells = [["", word, *(1.0 for _ in own.heads)] for word in ("Mean", "SD")]
    end: Cells = [[], ["Signed: K. Orrin"], ["Page 1 of 1"]]
    return Layout({"Report": [*form, head, *rows, [], *sums, *end]}, truth_of(own, (6,), product="Ref."))


def numbers_as_texts(drawn: Drawn) -> Layout:
    """Numbers stored as texts."""
    own = bench(drawn)
    rows: Cells = [[str(cell) for cell in row] for row in own.rows]
    return Layout({"Export": plain(replace(own, rows=rows))}, truth_of(own))


def two_days(drawn: Drawn) -> Layout:
    """Every bed on two days, without a word for the session."""
    own = bench(drawn)
    rows: Cells = []
    for day in (datetime.date(2026, 3, 2), datetime.date(2026, 6, 8)):
        rows += [[row[0], day, *row[1:]] for row in body(own)]
    return Layout({"Data": [["Bed", "Date", *own.heads], *rows]}, truth_of(own, rows=2 * len(own.ids), usual=2))


def makers_first(drawn: Drawn) -> Layout:
    """Makers and models before the ids."""
    own = bench(drawn)
    makers = ("Dunmarrow", "Osk Beds", "Veltrask")
    rows: Cells = [[makers[n % 3], own.names[n], *row] for n, row in enumerate(body(own))]
    truth = truth_of(own, product="Code", attributes=frozenset({"Manufacturer", "Model"}))
    return Layout({"Data": [["Manufacturer", "Model", "Code", *own.heads], *rows]}, truth)


def stars_in_cells(drawn: Drawn) -> Layout:
    """A star behind a number, and a word in place of one."""
    own = bench(drawn)
    rows = [list(row) for row in own.rows]
    rows[2][0], rows[4][1] = f"{rows[2][0]}*", "see note"
    words = frozenset({str(rows[2][0]), "see note"})
    return Layout({"Data": plain(replace(own, rows=rows))}, truth_of(own, words=words))


def blank_rows_between(drawn: Drawn) -> Layout:
    """A blank row after each."""
    own = bench(drawn)
    cells: Cells = []
    for row in plain(own):
        cells += [row, []]
    return Layout({"Data": cells}, truth_of(own))


def no_blank_before_brackets(drawn: Drawn) -> Layout:
    """`Noise[dB]`."""
    own = bench(drawn, unit="[{unit}]")
    heads = [head.replace(" [", "[") for head in own.heads]
    return Layout({"Data": plain(replace(own, heads=heads))}, truth_of(own))


def units_with_words(drawn: Drawn) -> Layout:
    """Units with words about them, below the names."""
    own = bench(drawn, unit="")
    units: list[object] = [None, *(f"in {unit}" for unit, _ in own.measures.values())]
    return Layout({"Data": [plain(own)[0], units, *body(own)]}, truth_of(own))


def row_of_weights(drawn: Drawn) -> Layout:
    """A row of weights below the header."""
    own = bench(drawn)
    weights: list[object] = ["Weight", *(2.0 for _ in own.heads)]
    return Layout({"Data": [plain(own)[0], weights, *body(own)]}, truth_of(own))


def repeats_called_runs(drawn: Drawn) -> Layout:
    """Repeats called runs."""
    own = bench(drawn, repeats=3, mark="Run {n}")
    return Layout({"Data": plain(own)}, truth_of(own))


def sheet_per_measure(drawn: Drawn) -> Layout:
    """A sheet a measure."""
    own = bench(drawn)
    sheets: dict[str, Cells] = {}
    for number, (words, (unit, _)) in enumerate(own.measures.items()):
        rows: Cells = [[row[0], row[1 + number]] for row in body(own)]
        sheets[words] = [[f"{words} readings"], ["Bed", f"{words} ({unit})"], *rows]
    return Layout(sheets, truth_of(own, (2,), rows=len(own.ids) * len(own.measures)))


def sheet_per_class(drawn: Drawn) -> Layout:
    """A sheet a kind of bed."""
    own = bench(drawn)
    half = len(own.ids) // 2
    sheets = {"Foam": plain(own)[: half + 1], "Spring": [plain(own)[0], *plain(own)[half + 1 :]]}
    return Layout(sheets, truth_of(own, sessions="each sheet"))


def price_in_readings(drawn: Drawn) -> Layout:
    """A price beside the readings."""
    own = bench(drawn)
    rows: Cells = [[*row, 499.0 + 20 * n] for n, row in enumerate(own.rows)]
    found = replace(own, heads=[*own.heads, "Price (€)"], rows=rows, measures=own.measures | {"Price": ("€", 1)})
    return Layout({"Data": plain(found)}, truth_of(found))


def pass_and_fail(drawn: Drawn) -> Layout:
    """Columns of pass and fail."""
    own = bench(drawn)
    rows: Cells = [[*row, ("pass", "fail")[n % 4 == 0], "OK"] for n, row in enumerate(own.rows)]
    return Layout({"Data": plain(replace(own, heads=[*own.heads, "Fire", "Status"], rows=rows))}, truth_of(own))


def blanks_for_missing(drawn: Drawn) -> Layout:
    """Empty cells for what was not read."""
    own = bench(drawn)
    rows = [list(row) for row in own.rows]
    for n in range(0, len(rows), 3):
        rows[n][n % len(own.heads)] = None
    return Layout({"Data": [["Invented"], [], *plain(replace(own, rows=rows))]}, truth_of(own, (3,)))


def empty_sheets(drawn: Drawn) -> Layout:
    """The empty sheets that come with a new workbook."""
    own = bench(drawn)
    sheets: dict[str, Cells] = {"Sheet1": plain(own), "Sheet2": [], "Sheet3": []}
    return Layout(sheets, truth_of(own, aside=frozenset({"Sheet2", "Sheet3"})))


def check_bed_again(drawn: Drawn) -> Layout:
    """One bed read again in the second session."""
    own = bench(drawn)
    half = len(own.ids) // 2
    rows: Cells = [[row[0], "S1" if n < half else "S2", *row[1:]] for n, row in enumerate(body(own))]
    rows.append([rows[0][0], "S2", *rows[0][2:]])
    truth = truth_of(own, rows=len(rows), sessions="Lab session")
    return Layout({"Data": [["Bed", "Lab session", *own.heads], *rows]}, truth)


def long_without_repeat(drawn: Drawn) -> Layout:
    """A row a reading, units in the names of tests, repeats not numbered."""
    own = bench(drawn)
    rows: Cells = []
    for one in body(own):
        for (words, (unit, _)), value in zip(own.measures.items(), one[1:], strict=True):
            rows += [[one[0], f"{words} ({unit})", value]] * 2
    measures = {words: (unit, 2) for words, (unit, _) in own.measures.items()}
    truth = truth_of(own, product="Product", rows=len(rows), measures=measures)
    return Layout({"Data": [["Product", "Test", "Value"], *rows]}, truth)


def column_of_years(drawn: Drawn) -> Layout:
    """A column of years."""
    own = bench(drawn)
    rows: Cells = [[row[0], 2024.0 + n % 3, *row[1:]] for n, row in enumerate(body(own))]
    return Layout({"Data": [["Bed", "Year", *own.heads], *rows]}, truth_of(own))


def unnamed_products(drawn: Drawn) -> Layout:
    """Nothing in the upper left cell."""
    own = bench(drawn)
    return Layout({"Data": [["", *own.heads], *body(own)]}, truth_of(own, product=""))


def units_in_cells(drawn: Drawn) -> Layout:
    """The unit behind each number of one measure, and not in its header."""
    own = bench(drawn)
    drops = [f"{40 + int(drawn.integers(60))} mm" for _ in own.ids]
    rows: Cells = [[*row, drop] for row, drop in zip(own.rows, drops, strict=True)]
    measures = own.measures | {"Lie sink": ("mm", 1)}
    found = replace(own, heads=[*own.heads, "Lie sink"], rows=rows, measures=measures)
    return Layout({"Data": plain(found)}, truth_of(found))


FURTHER: tuple[Callable[[Drawn], Layout], ...] = (
    report_of_a_laboratory, numbers_as_texts, two_days, makers_first, stars_in_cells, blank_rows_between,
    no_blank_before_brackets, units_with_words, row_of_weights, repeats_called_runs, sheet_per_measure, sheet_per_class,
    price_in_readings, pass_and_fail, blanks_for_missing, empty_sheets, check_bed_again, long_without_repeat,
    column_of_years, unnamed_products, units_in_cells,
)  # fmt: skip
