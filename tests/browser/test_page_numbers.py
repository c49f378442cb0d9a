"""The page's figures against Python's, in the browser: every product, every address."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from extent import is_long

from scoring.addresses.addresses import set_addresses
from scoring.catalogue import read_catalogue
from scoring.errors import SteelyardError
from scoring.program.program import compile_form
from scoring.reader import read_form
from scoring.table.evaluate import evaluate, inputs_of, kernel_for
from scoring.table.table import ScoreTable, score_catalogue

ROOT = Path(__file__).parents[2]
LABORATORY = ROOT / "examples/laboratory"
PUBLISHED = ROOT / "formulas/published"
#: Runs settings in the page; values are null where there is none.
RUN = """settings => settings.map(pairs => {
  const { made, unknown } = steelyard.stateFrom(pairs), result = steelyard.evaluate(steelyard.model, steelyard.settingOf(steelyard.model, made));
  const plain = values => Array.from(values, value => (isNaN(value) ? null : value));
  const columns = Object.fromEntries(Object.entries(result.columns).map(([name, one]) => [name, {
    value: plain(one.value), shown: plain(one.shown), rank: plain(one.rank), status: Array.from(one.status),
    band: one.band.map(place => (place < 0 ? "" : one.bands[place].name)),
    remarks: one.remarks,
  }]));
  return { unknown, wrong: result.wrong.length, columns };
})"""
MOVED = "() => [steelyard.model.numbers.map(one => [one.address, one.value]), steelyard.model.choices.map(one => [one.address, one.options])]"


def numbers(values: Sequence[float | None]) -> Any:
    return np.array([np.nan if value is None else value for value in values], float)


def distinct(values: Any) -> bool:
    """Whether values are apart or equal, and no place hangs on the dust of binary arithmetic (a residual that is 0, say)."""
    gaps = np.diff(np.sort(values[~np.isnan(values)]))
    return bool(np.all((gaps == 0) | (gaps > 1e-9)))


def held(pairs: Sequence[tuple[str, str]], page: Mapping[str, Any], table: ScoreTable) -> None:
    """Everything that a table publishes is the same in the page."""
    assert page["unknown"] == []
    assert page["wrong"] == 0
    for column in table.ratings + table.scores:
        found = page["columns"][column.output.name]
        np.testing.assert_allclose(numbers(found["value"]), column.value, rtol=0, atol=1e-9, err_msg=str(pairs))
        np.testing.assert_array_equal(numbers(found["shown"]), column.shown, err_msg=f"{column.output.name} {pairs}")
        if distinct(column.value) and distinct(numbers(found["value"])):
            np.testing.assert_array_equal(numbers(found["rank"]), column.rank, err_msg=f"{column.output.name} {pairs}")
        assert found["status"] == column.status.tolist(), (column.output.name, pairs)
        assert found["band"] == [table.band_name(column, i) for i in range(len(column.value))], (
            column.output.name,
            pairs,
        )


def test_many_settings_of_all_numbers_give_pythons_values(demo_page: Path, opened: Any) -> None:
    """Every number of the formula moved at once, 200 times (60): each product's ratings and scores agree to 1e-9."""
    count = 200 if is_long() else 60
    form = read_form(LABORATORY / "guest-bed.yaml")
    inputs = inputs_of(form, read_catalogue(LABORATORY, form))
    page = opened(demo_page).page
    stated, _ = page.evaluate(MOVED)
    rng = np.random.default_rng(0)
    draws = {address: np.round(value * rng.uniform(0.97, 1.03, count), 6) for address, value in stated}
    program = compile_form(form)
    kernel = kernel_for(program, inputs, varying=[address for address in draws if address in program.parameters])
    values = evaluate(kernel, inputs, draws).values
    settings = [[[address, repr(float(found[k]))] for address, found in draws.items()] for k in range(count)]
    worst, compared = 0.0, 0
    for k, result in enumerate(page.evaluate(RUN, settings)):
        assert result["unknown"] == []
        for output in form.outputs:
            found, expected = numbers(result["columns"][output.name]["value"]), values[output.name][k]
            published = ~np.isnan(found)  # a gate withholds after the arithmetic
            assert not np.isnan(expected[published]).any()
            worst = max(worst, float(np.max(np.abs(found - expected)[published], initial=0)))
            compared += int(published.sum())
    assert compared > count * 500
    assert worst < 1e-9


def random_settings(page: Any, count: int, seed: int) -> list[list[tuple[str, str]]]:
    """Settings of a few numbers and choices each, far from what is stated."""
    stated, choices = page.evaluate(MOVED)
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(count):
        some = rng.choice(len(stated), size=min(int(rng.integers(1, 7)), len(stated)), replace=False)
        pairs = [
            (stated[i][0], f"{stated[i][1] * rng.choice([0.5, 0.8, 1.2, 1.6]) + (0.2 if stated[i][1] == 0 else 0):.6g}")
            for i in some
        ]
        picked = rng.choice(len(choices), size=min(int(rng.integers(0, 4)), len(choices)), replace=False)
        pairs += [(choices[i][0], str(rng.choice(choices[i][1]))) for i in picked]
        found.append(pairs)
    return found


def compare_with_python(formula: Path, catalogue: Path, page: Any, settings: list[list[tuple[str, str]]]) -> int:
    """Hold the page to Python under each setting that the reader takes and that scores; how many there were."""
    form, compared = read_form(formula), 0
    for pairs, result in zip(settings, page.evaluate(RUN, settings), strict=True):
        try:
            changed = set_addresses(form, [f"{address}={value}" for address, value in pairs])
            table = score_catalogue(changed, read_catalogue(catalogue, changed))
        except SteelyardError:
            continue
        held(pairs, result, table)
        compared += 1
    return compared


def test_whole_tables_agree_under_random_settings(demo_page: Path, opened: Any) -> None:
    """Values, shown figures, places, bands, statuses: the same table as Python prints."""
    page = opened(demo_page).page
    count = 80 if is_long() else 20
    settings = random_settings(page, count, seed=1)
    assert compare_with_python(LABORATORY / "guest-bed.yaml", LABORATORY, page, settings) > count / 2


def test_every_option_of_every_choice_agrees(demo_page: Path, opened: Any) -> None:
    """Each choice the page offers, at each of its options: the same table as Python prints."""
    page = opened(demo_page).page
    _, choices = page.evaluate(MOVED)
    settings = [[(address, option)] for address, options in choices for option in options[1:]]
    by_kind: dict[str, list[list[tuple[str, str]]]] = {}
    for pairs in settings:
        kind = pairs[0][0].rsplit(".", 1)[-1] + "=" + pairs[0][1]
        by_kind.setdefault(kind, []).append(pairs)
    few = [pairs for alike in by_kind.values() for pairs in alike[: 3 if is_long() else 1]]
    assert compare_with_python(LABORATORY / "guest-bed.yaml", LABORATORY, page, few) > 0.8 * len(few)


@pytest.mark.parametrize(
    ("formula", "catalogue"),
    [
        ("technology-achievement", "technology-23-countries"),
        ("decathlon", "decathlon-athens-2004"),
        ("thermal-comfort", "thermal-comfort"),
        ("air-quality-2024", "air-quality-2024"),
        ("normalisations", "technology-23-countries"),
    ],
)
def test_published_formulas_agree_too(formula: str, catalogue: str, tmp_path: Path, opened: Any) -> None:
    """Expressions, constants, live and frozen populations, steps and open scales come out of the same printer."""
    from analysis.cli import explore

    path, readings = PUBLISHED / f"{formula}.yaml", PUBLISHED / f"data/{catalogue}.csv"
    explore.run(path, readings, [], out=tmp_path / "page.html")
    page = opened(tmp_path / "page.html").page
    settings = [[], *random_settings(page, 12 if is_long() else 6, seed=2)]
    assert compare_with_python(path, readings, page, settings) >= (4 if is_long() else 2)


ROUNDING = "cases => cases.map(([value, step, rule]) => steelyard.round_to(value, step, rule))"


def test_rounding_in_the_page_is_pythons(demo_page: Path, opened: Any) -> None:
    """Ties, dust beside ties, odd steps and signs: the same double, whatever the rule."""
    from scoring.numbers.rounding import RULES, round_to

    rng = np.random.default_rng(3)
    values = [0.0, -0.0, 8.25, 8.249999999999998, 8.35, 1.005, -1.005, 0.05, -0.05, 2.5, 3.5, 1e-9, 123456.789]
    values += [float(v) for v in np.round(rng.uniform(-20, 20, 400), 3)]
    values += [float(k) / 40 * (1 + 1e-15 * float(rng.integers(-3, 4))) for k in range(-200, 200)]
    cases = [[value, step, rule] for value in values for step in (0.1, 0.25, 0.5, 1, 0.05, 3, 0.015) for rule in RULES]
    found = opened(demo_page).page.evaluate(ROUNDING, cases)
    expected = [float(round_to(value, step, rule)) for value, step, rule in cases]
    wrong = [(case, a, b) for case, a, b in zip(cases, found, expected, strict=True) if a != b]
    assert wrong == []


LIVE = """\
formula: live
scale: {from: 0, to: 100}
bands: {low: 0, half: 50, top: 90}
measures:
  x: {unit: "1", better: higher, plausible: [0, 100]}
  y: {unit: "1", better: higher, plausible: [0, 100]}
ratings:
  raw:
    mix:
      - {measure: x, weight: 3, curve: {line: {worst: 0, best: 100}}}
      - {measure: y, weight: 1, curve: {smooth: {0: 0, 40: 70, 100: 100}}}
  by_best: {mix: [{rating: raw, curve: {ratio: {}}}]}
  by_ends: {mix: [{rating: raw, curve: {minmax: {better: lower}}}]}
  by_mean: {mix: [{rating: raw, curve: {z: {centre: 50, per_sd: 15}}}]}
  by_rank: {mix: [{rating: raw, curve: {standing: {ties: lowest}}}]}
  over: {mix: [{rating: by_mean, curve: {minmax: {}}}]}
scores:
  all: {weights: {by_best: 2, by_ends: 1, by_mean: 1, by_rank: 1, over: 1}}
"""


def test_live_populations_of_ratings_agree(tmp_path: Path, opened: Any) -> None:
    """Figures of ratings are worked out anew under each setting, one upon another, without what has no rating."""
    from analysis.cli import explore

    path, readings = tmp_path / "live.yaml", tmp_path / "readings.csv"
    path.write_text(LIVE)
    rng = np.random.default_rng(5)
    rows = [f"P{i},{x},{y}" for i, (x, y) in enumerate(np.round(rng.uniform(5, 95, (9, 2)), 1).tolist())]
    readings.write_text("\n".join(["product,x,y", *rows, "Q,missing,60", "P8b," + rows[8].split(",", 1)[1], ""]))
    explore.run(path, readings, [], out=tmp_path / "page.html")
    page = opened(tmp_path / "page.html").page
    settings = [[], *random_settings(page, 20, seed=4)]
    assert compare_with_python(path, readings, page, settings) >= 6


OWN = """\
formula: own
scale: {from: 1, to: 10}
bands: {weak: 1, fair: 4, strong: 7}
measures:
  x: {unit: "1", better: higher, plausible: [0, 12]}
  y: {unit: "1"}
attributes: {fire: {values: [ok, none]}}
ratings:
  index: {value: "clamp(x, 1, 10)"}
  other: {value: "clamp(y, 1, 10)"}
scores:
  held:
    value: index
    band_limits: [{when: "other < 4", no_better_than: fair}, {name: both, when: y > 8 and fire == none, no_better_than: none}]
  light:
    value: index
    ranks: {best: lowest}
    band_limits: [{when: "y / x > 1.5", no_better_than: fair}]
  value:
    value: "clamp(index / 2, 0, 5)"
    scale: {from: 0, to: 5, show: {step: 0.5}}
    ranks: {on: shown, ties: dense}
    bands:
      good: 2   # from here on
      poor: 0
  loss: {value: "10 - index", scale: {from: 0, to: 10}, ranks: {best: lowest}, bands: none}
  plain: {value: "clamp(index / 2, 0, 5)", scale: {from: 0, to: 5}, bands: formula}
"""
SAVED = "pairs => steelyard.changedSources(steelyard.stateFrom(pairs).made).map(one => one.text)"


def own_page(tmp_path: Path, opened: Any) -> tuple[Path, Path, Any]:
    """The page of scores with places and bands of their own, with its formula and readings."""
    from analysis.cli import explore

    path, readings = tmp_path / "own.yaml", tmp_path / "readings.csv"
    path.write_text(OWN)
    columns = (8.0, 3.9, 2.0, 2.2, 11, 7.95, 0.5, 9), (3, 9, "missing", 9, 3.5, "not applicable", 2, "missing")
    words = "ok", "none", "ok", "", "ok", "ok", "none", "none"
    rows = [f"P{i},{x},{y},{word}" for i, (x, y, word) in enumerate(zip(*columns, words, strict=True))]
    readings.write_text("\n".join(["product,x,y,fire", *rows, "Q,missing,3,ok", ""]))
    explore.run(path, readings, [], out=tmp_path / "page.html")
    return path, readings, opened(tmp_path / "page.html").page


def test_places_and_bands_of_a_score_s_own_agree(tmp_path: Path, opened: Any) -> None:
    """Under every option of every choice, with edges moved, and under settings of several at once."""
    path, readings, page = own_page(tmp_path, opened)
    _, choices = page.evaluate(MOVED)
    known = {address for address, _ in choices}
    assert {"scores.value.bands", "scores.loss.bands", "scores.loss.ranks.best", "scores.value.ranks.ties"} <= known
    assert "scores.held.band_limits.both.no_better_than" in known
    settings = [[(address, option)] for address, options in choices for option in options[1:]]
    settings += [[("scores.value.bands.good", "1.5")], [("bands.strong", "3.5"), ("scores.loss.bands", "formula")]]
    settings += [[], *random_settings(page, 12, seed=5)]
    assert compare_with_python(path, readings, page, settings) > 20
    table = score_catalogue(read_form(path), read_catalogue(readings, read_form(path)))
    (found,) = page.evaluate(RUN, [[]])
    for name in ("held", "light"):
        lowered = table.column(name).banded.by >= 0
        assert lowered.sum() > 2
        told = [
            next((one for one in said if one.startswith("no band")), "") for said in found["columns"][name]["remarks"]
        ]
        remarks = table.column(name).remarks
        assert told == [next((r for r in remarks.get(i, ()) if r.startswith("no band")), "") for i in range(len(told))]


def test_bands_written_over_are_saved_without_what_was_moved_in_them(tmp_path: Path, opened: Any) -> None:
    """An edge that was moved goes with the bands that it stood in; elsewhere it stays where it is written."""
    path, _, page = own_page(tmp_path, opened)
    moved = [["scores.value.bands.good", "1.5"]]
    assert page.evaluate(SAVED, moved) == [OWN.replace("good: 2 ", "good: 1.5 ")]
    (text,) = page.evaluate(SAVED, [*moved, ["scores.value.bands", "none"]])
    path.write_text(text)
    assert read_form(path).output("value").bands.edges == ()


WORKED = """cases => cases.map(([name, ...given]) => {
  const found = steelyard.arithmetic[name](...given.map(one => (one === null ? NaN : one)));
  return isNaN(found) ? null : found;
})"""


def test_partial_arithmetic_and_conditions_in_the_page_are_pythons(demo_page: Path, opened: Any) -> None:
    """Division, logarithm, root, power, comparisons on either side of dust, and the three values of conditions."""
    from scoring.numbers import arrays
    from scoring.numbers.rounding import cleaned

    numbers_tried = [None, -3.0, -1.0, 0.0, 0.5, 1.0, 2.0, 40.0, 40.00000000000001, 0.1 + 0.2, 0.3, 1e-300, 1e300]
    cases: list[list[Any]] = [[name, a] for name in ("ln", "root", "denied", "cleaned") for a in numbers_tried]
    for name in ("over", "raised"):
        cases += [[name, a, b] for a in numbers_tried for b in numbers_tried]
    cases += [["compared", a, sign, b] for a in numbers_tried for b in numbers_tried for sign in arrays.COMPARISONS]
    truths = [None, 0.0, 1.0]
    cases += [[name, a, b, c] for name in ("both", "either") for a in truths for b in truths for c in truths]
    cases += [["choose", a, 3.0, b] for a in truths for b in (4.0, None)]
    cases += [
        ["cleaned", float(v)] for v in np.random.default_rng(6).uniform(-1, 1, 300) * 10.0 ** np.arange(-150, 150)
    ]
    found = opened(demo_page).page.evaluate(WORKED, cases)
    for case, one in zip(cases, found, strict=True):
        name, *given = case
        function = cleaned if name == "cleaned" else getattr(arrays, name)
        with np.errstate(all="ignore"):
            expected = float(function(*(np.nan if value is None else value for value in given)))
        assert (one is None and np.isnan(expected)) or one == pytest.approx(expected, rel=1e-15), (case, one, expected)
