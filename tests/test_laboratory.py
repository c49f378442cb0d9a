"""The invented laboratory: its generator agrees with values worked out apart from it, and with its tables."""

from __future__ import annotations

import importlib.util
from collections import Counter
from decimal import Decimal
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from analysis.repeats.repeatability import precisions
from scoring.catalogue import read_catalogue
from scoring.reader import read_form

LABORATORY = Path(__file__).resolve().parents[1] / "examples" / "laboratory"


def load_generator() -> ModuleType:
    """The generator as a module, loaded from its file."""
    found = importlib.util.spec_from_file_location("laboratory_generator", LABORATORY / "generate.py")
    assert found is not None
    assert found.loader is not None
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


GENERATE = load_generator()
SPEC: dict[str, Any] = GENERATE.read_spec(LABORATORY / "laboratory.json")
CHECK: dict[str, Any] = SPEC["self_check"]
IDS: list[str] = GENERATE.item_ids(SPEC)
KEYS: list[str] = GENERATE.measure_keys(SPEC)
TRUE_VALUES: NDArray[np.float64] = GENERATE.true_values(SPEC)
OWN = GENERATE.own_readings(SPEC)
READINGS = GENERATE.readings(SPEC)


def near(expected: dict[str, float | None]) -> Any:
    """The expected values within the stated relative tolerance; null stands for not applicable."""
    values = {key: np.nan if value is None else value for key, value in expected.items()}
    return pytest.approx(values, rel=CHECK["tolerance_relative"], abs=0, nan_ok=True)


def flags_of(item: str, measure: str) -> list[str]:
    """The flags of one cell's repeats."""
    return [row.flag for row in READINGS if (row.id, row.measure) == (item, measure)]


@pytest.mark.parametrize("item", CHECK["true_values"])
def test_true_values_agree_with_the_self_check(item: str) -> None:
    """Fourteen measures of three items, worked out by a second program."""
    found = dict(zip(KEYS, TRUE_VALUES[IDS.index(item)], strict=True))
    assert found == near(CHECK["true_values"][item])


@pytest.mark.parametrize("group", CHECK["class_mean_true_values"])
def test_class_means_agree_with_the_self_check(group: str) -> None:
    """The mean true value of every measure in a class, worked out by a second program."""
    members = [item["class"] == group for item in SPEC["items"]]
    found = dict(zip(KEYS, TRUE_VALUES[members].mean(axis=0), strict=True))
    assert found == near(CHECK["class_mean_true_values"][group])


@pytest.mark.parametrize(
    ("item", "measure"),
    [(item, measure) for item, cells in CHECK["readings_before_missing"].items() for measure in cells],
)
def test_readings_before_missing_agree_with_the_self_check(item: str, measure: str) -> None:
    """Every repeat of six cells, worked out by a second program; exact, because readings are rounded."""
    found = [float(value) for value in GENERATE.rounded_readings(SPEC)[item, measure]]
    assert found == CHECK["readings_before_missing"][item][measure]


def test_the_latent_correlation_is_a_correlation() -> None:
    """Its smallest eigenvalue is the one stated, so the Cholesky factor needs no repair."""
    smallest = np.linalg.eigvalsh(GENERATE.latent_correlation(SPEC))[0]
    assert smallest == pytest.approx(SPEC["latent_correlation"]["smallest_eigenvalue"], abs=5e-5)


def test_the_stated_numbers_of_cells_and_repeats_are_missing() -> None:
    """Whole cells among those that apply, and single repeats of the other cells."""
    repeats = Counter((row.id, row.measure) for row in OWN)
    lost = Counter((row.id, row.measure) for row in OWN if row.flag == "missing")
    whole = [cell for cell in lost if lost[cell] == repeats[cell]]
    assert len(whole) == SPEC["missing"]["expected_missing_cells"] == 21
    single = lost.total() - sum(lost[cell] for cell in whole)
    assert single == SPEC["missing"]["expected_missing_repeats"] == 63


def test_a_cell_that_is_not_wholly_missing_keeps_two_repeats() -> None:
    """Single losses stop while two repeats remain."""
    kept = Counter((row.id, row.measure) for row in READINGS if row.value is not None)
    assert min(kept.values()) == 2


@pytest.mark.parametrize("twins", [tuple(pair["same_true_values"]) for pair in SPEC["twins"]], ids="=".join)
def test_twins_share_true_values_and_not_readings(twins: tuple[str, str]) -> None:
    """One product under two names: the bench reads each of them afresh."""
    first, second = (TRUE_VALUES[IDS.index(item)] for item in twins)
    assert np.array_equal(first, second)
    shown = [[row.value for row in READINGS if row.id == item] for item in twins]
    assert shown[0] != shown[1]


@pytest.mark.parametrize("forced", SPEC["forced_values"], ids=lambda forced: forced["id"])
def test_forced_values_are_the_true_values(forced: dict[str, Any]) -> None:
    """Each planted extreme stands as stated, whatever its class would have given."""
    assert TRUE_VALUES[IDS.index(forced["id"]), KEYS.index(forced["measure"])] == forced["true_value"]


def test_a_row_has_no_value_where_it_is_missing_or_does_not_apply_and_nowhere_else() -> None:
    """3 120 rows of the items' own: 60 with 52 repeats each."""
    assert len(OWN) == 60 * 52
    assert {row.flag for row in READINGS if row.value is None} == {"missing", "not_applicable"}
    assert {row.flag for row in READINGS if row.value is not None} == {"", "below"}


def test_not_applicable_is_height_loss_of_air_chambers_and_nothing_else() -> None:
    """Also where the instrument was down: the measure does not apply first."""
    found = {(row.id, row.measure) for row in READINGS if row.flag == "not_applicable"}
    air = [item["id"] for item in SPEC["items"] if item["class"] == "air_chamber"]
    assert found == {(item, "height_loss_mm") for item in air}


def test_a_reading_under_the_limit_is_the_limit_and_says_so() -> None:
    """Only noise goes under its limit here, and QB-036 is truly below it."""
    below = [row for row in READINGS if row.flag == "below"]
    assert {(row.measure, row.value) for row in below} == {("noise_dba", Decimal("22.0"))}
    assert flags_of("QB-036", "noise_dba") == ["below", "below", "below", "", "below"]


def test_the_wild_repeat_is_written_as_recorded() -> None:
    """QB-009, noise, repeat 3."""
    cell = [row.value for row in READINGS if (row.id, row.measure) == ("QB-009", "noise_dba")]
    assert cell[2] == Decimal("63.5")


def test_check_beds_are_withheld_ones_and_read_again_in_the_other_sessions_only() -> None:
    """They move no published score, and nothing else is read in two sessions."""
    own = {item["id"]: item["session"] for item in SPEC["items"]}
    again = {(row.id, row.session) for row in READINGS if row.session != own[row.id]}
    assert again == {(item, session) for item in ("QB-031", "QB-058") for session in ("S1", "S3")}
    assert READINGS[: len(OWN)] == OWN


def test_second_specimens_are_those_of_height_loss_in_the_items_own_session() -> None:
    """Twelve, read three times as the first ones are."""
    second = [row for row in READINGS if row.specimen == "b"]
    assert {row.measure for row in second} == {"height_loss_mm"}
    assert Counter(row.id for row in second) == dict.fromkeys(SPEC["conditions"]["second_specimens"]["items"], 3)


def test_what_the_form_states_between_sessions_and_specimens_is_what_the_readings_were_made_with() -> None:
    """The generator's sizes are those of the form, and the estimate of what is pooled is near the one it was made with."""
    form = read_form(LABORATORY / "guest-bed.yaml")
    stated = {measure.name: measure for measure in form.measures}
    for name, between in SPEC["conditions"]["between_sessions"].items():
        component = stated[name].between_sessions
        assert component is not None
        assert component.amount is not None
        assert component.amount.value == pytest.approx(between["sd"])
        assert component.kind.value == {"abs": "absolute", "rel": "relative"}[between["sd_kind"]]
    second = SPEC["conditions"]["second_specimens"]
    catalogue = read_catalogue(LABORATORY, form)
    (found,) = (one for one in precisions(form, catalogue) if one.measure == second["measure"])
    assert found.specimens is not None
    assert found.specimens.low < second["sd_rel"] < found.specimens.high


def test_every_value_stands_at_its_measures_resolution() -> None:
    """A whole number of steps, printed with the resolution's decimals and no binary dust."""
    resolution = {measure["key"]: Decimal(str(measure["resolution"])) for measure in SPEC["measures"]}
    present = [row for row in READINGS if row.value is not None]
    assert len(present) > 2900
    off = [row for row in present if row.value % resolution[row.measure] != 0]
    dusty = [row for row in present if str(row.value) != str(row.value.quantize(resolution[row.measure]))]
    assert off == dusty == []


def test_every_reading_is_plausible() -> None:
    """The input check has nothing to stop in the tables as they stand."""
    limits = {m["key"]: (m["plausible_low"], m["plausible_high"]) for m in SPEC["measures"]}
    present = [(row, *limits[row.measure]) for row in READINGS if row.value is not None]
    assert [row for row, low, high in present if not low <= row.value <= high] == []


def test_an_unknown_distribution_is_refused() -> None:
    """A slip in the parameters stops the generator."""
    measures = [{**SPEC["measures"][0], "distribution": "cauchy"}, *SPEC["measures"][1:]]
    with pytest.raises(ValueError, match="rebound_pct: unknown distribution 'cauchy'"):
        GENERATE.true_values({**SPEC, "measures": measures})


def test_a_folder_that_is_not_there_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2, a message, and nothing made."""
    with pytest.raises(SystemExit, match="2"):
        GENERATE.main([str(tmp_path / "absent")])
    assert "absent: not a folder" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_another_seed_gives_other_readings() -> None:
    """The seed is used."""
    other = {**SPEC, "generator": {**SPEC["generator"], "seed": 0}}
    assert GENERATE.readings_csv_text(other) != GENERATE.readings_csv_text(SPEC)


@pytest.mark.parametrize("name", ["items.csv", "readings.csv"])
def test_the_committed_tables_are_what_the_generator_writes_each_time(name: str, tmp_path: Path) -> None:
    """Two runs give the same bytes, and so does the committed file: LF ends, no byte order mark."""
    folders = [tmp_path / "first", tmp_path / "second"]
    for folder in folders:
        folder.mkdir()
        GENERATE.main([str(folder)])
    first, second = ((folder / name).read_bytes() for folder in folders)
    assert first == second == (LABORATORY / name).read_bytes()
    assert first.startswith(b"id,")
    assert first.endswith(b"\n")
    assert b"\r" not in first


def test_the_parameters_say_first_that_they_are_invented() -> None:
    """Nobody should take the tables for real ones."""
    assert next(iter(SPEC.values())).startswith("INVENTED.")
    assert "Everything here is invented" in (LABORATORY / "README.md").read_text(encoding="utf-8")
