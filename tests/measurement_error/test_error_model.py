"""The error model: uncertainties, degrees of freedom, covariances and draws, each against a second way of working it out."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from written_forms import form_of

from scoring.catalogue import Catalogue, from_arrays
from scoring.errors import CatalogueError
from scoring.measurement_error import ErrorModel, error_model

Array = NDArray[np.float64]
DRAWS = 40_000


def model_of(measures: dict[str, str], catalogue: Catalogue, extra: str = "") -> ErrorModel:
    """The error model of measures with these keys."""
    lines = "".join(f'  {name}: {{unit: "1", {keys}}}\n' for name, keys in measures.items())
    first = next(iter(measures))
    rating = f"ratings:\n  r: {{measure: {first}, curve: {{line: {{worst: 0, best: 100}}}}}}\n"
    return error_model(form_of(f"formula: trial\nmeasures:\n{lines}{rating}{extra}"), catalogue)


def read(n_products: int, n_repeats: int, names: str = "x", **conditions: NDArray[np.object_]) -> Catalogue:
    """A catalogue whose readings lie near 50."""
    rng = np.random.default_rng(7)
    ids = [f"P{i}" for i in range(n_products)]
    readings = {name: 50 + rng.standard_normal((n_products, n_repeats)) for name in names}
    return from_arrays(ids, readings, **{key: dict.fromkeys(names, texts) for key, texts in conditions.items()})


def texts(rows: list[str]) -> NDArray[np.object_]:
    """A row of words a product."""
    return np.array([row.split() for row in rows], dtype=object)


def drawn(model: ErrorModel, name: str = "x", *, scaled: bool = True) -> Array:
    """Draws of a measure's errors."""
    return model.draw(DRAWS, np.random.default_rng(1), scaled=scaled)[name]


@pytest.mark.parametrize(
    ("keys", "n_repeats", "u"),
    [
        ("repeatability: 2", 4, 1.0),
        ("repeatability: 2, repeats: median", 3, 2 * math.sqrt(0.4486711)),
        ("repeatability: 2, repeats: median", 2, 2 / math.sqrt(2)),
        ("repeatability: 2, repeats: trimmed, trim: 0.2", 5, 2 * math.sqrt(0.2270554)),
        ("repeatability: 2, between_sessions: 1.5", 4, math.sqrt(1 + 2.25)),
        ("repeatability: 2, between_specimens: 1.5", 4, math.sqrt(1 + 2.25)),
        ("repeatability: 2, systematic: {half_width: 3, distribution: rectangular}", 4, math.sqrt(1 + 3)),
        ("repeatability: 2, systematic: {half_width: 3, distribution: triangular}", 4, math.sqrt(1 + 1.5)),
    ],
)
def test_the_uncertainty_of_a_value_by_hand_and_by_draws(keys: str, n_repeats: int, u: float) -> None:
    """Within a run by the rule of the repeats; what is shared by all readings of a product whole. Half-widths: GUM 4.3.7."""
    model = model_of({"x": keys}, read(3, n_repeats, sessions=texts([" ".join(["A"] * n_repeats)] * 3)))
    assert model.u["x"] == pytest.approx([u] * 3, rel=1e-6)
    assert drawn(model).std(axis=0) == pytest.approx([u] * 3, rel=0.015)
    assert np.isinf(model.freedom["x"]).all()


def test_a_level_mean_scatters_like_its_readings_put_through_it() -> None:
    """Draws against the level mean of noisy readings: the rule is the measure's own, and no mean."""
    model = model_of({"x": "repeatability: 3, repeats: level mean"}, read(1, 4))
    errors = 3 * np.random.default_rng(2).standard_normal((DRAWS, 4))
    whole = 10 * np.log10(np.mean(10 ** ((60 + errors) / 10), axis=1)) - 60
    ours = drawn(model)[:, 0]
    assert (ours.mean(), ours.std()) == pytest.approx((whole.mean(), whole.std()), rel=0.02)


def test_a_session_is_shared_by_the_products_read_in_it() -> None:
    """Its shift is no part of a difference of products of one session, and is twice in one between sessions."""
    model = model_of({"x": "repeatability: 1, between_sessions: 2"}, read(3, 1, sessions=texts(["A", "A", "B"])))
    errors = drawn(model)
    assert (errors[:, 0] - errors[:, 1]).std() == pytest.approx(math.sqrt(2), rel=0.015)
    assert (errors[:, 0] - errors[:, 2]).std() == pytest.approx(math.sqrt(2 + 8), rel=0.015)
    assert model.is_shared


def test_readings_in_two_sessions_halve_what_each_adds() -> None:
    """Two of four readings in each: a variance of 1/4 + 4/2; of 3 and 1, 1/4 + 4 (9 + 1) / 16."""
    catalogue = read(2, 4, sessions=texts(["A A B B", "A A A B"]))
    model = model_of({"x": "repeatability: 1, between_sessions: 2"}, catalogue)
    expected = [math.sqrt(0.25 + 2), math.sqrt(0.25 + 2.5)]
    assert model.u["x"] == pytest.approx(expected)
    assert drawn(model).std(axis=0) == pytest.approx(expected, rel=0.015)


def test_specimens_are_a_products_own() -> None:
    """The same word for two products means two specimens; two specimens of one product halve the variance."""
    catalogue = read(3, 2, specimens=texts(["a b", "a a", "a a"]))
    model = model_of({"x": "repeatability: 1, between_specimens: 2"}, catalogue)
    expected = [math.sqrt(0.5 + 2), math.sqrt(0.5 + 4), math.sqrt(0.5 + 4)]
    assert model.u["x"] == pytest.approx(expected)
    errors = drawn(model)
    assert errors.std(axis=0) == pytest.approx(expected, rel=0.015)
    assert abs(np.corrcoef(errors[:, 1], errors[:, 2])[0, 1]) < 0.02
    assert not model.is_shared


def test_errors_of_one_run_are_correlated_as_stated() -> None:
    """Repeat by repeat: means of the same runs keep the coefficient; a measure read in two of three runs shares those."""
    extra = "error_correlations: {plate: {measures: [x, y], component: repeatability, coefficient: 0.8}}\n"
    catalogue = read(2, 3, "xy")
    readings = {"x": catalogue.readings["x"].values, "y": catalogue.readings["y"].values.copy()}
    readings["y"][1, 2] = np.nan
    model = model_of({"x": "repeatability: 1", "y": "repeatability: 2"}, from_arrays(["P0", "P1"], readings), extra)
    expected = [0.8, 0.8 * 2 / math.sqrt(3 * 2)]
    assert model.correlation("x", "y") == pytest.approx(expected)
    both = model.draw(DRAWS, np.random.default_rng(1))
    found = [np.corrcoef(both["x"][:, i], both["y"][:, i])[0, 1] for i in (0, 1)]
    assert found == pytest.approx(expected, abs=0.015)
    assert np.corrcoef(both["x"][:, 0], both["y"][:, 1])[0, 1] == pytest.approx(0, abs=0.02)


def test_a_pooled_size_is_drawn_with_its_degrees_of_freedom() -> None:
    """4 products of 2 repeats: 4 degrees of freedom, so that draws follow t with 4, all products' scale alike."""
    model = model_of({"x": "repeatability: pooled"}, read(4, 2))
    assert model.freedom["x"] == pytest.approx([4] * 4)
    errors, as_stated = drawn(model) / model.u["x"], drawn(model, scaled=False) / model.u["x"]
    assert as_stated.std() == pytest.approx(1, rel=0.015)
    quantiles = np.quantile(np.abs(errors), [0.5, 0.9, 0.99])
    assert quantiles == pytest.approx([0.7407, 2.1318, 4.6041], rel=0.02)  # t with 4 degrees: any table (from memory)
    assert np.corrcoef(np.abs(errors[:, 0]), np.abs(errors[:, 1]))[0, 1] > 0.1


def test_effective_degrees_of_freedom_by_welch_and_satterthwaite() -> None:
    """u^4 / sum(u_i^4 / nu_i): components 1 on 4 degrees, 2 on 10, and 1 known exactly."""
    keys = (
        "repeatability: {standard_deviation: 1, degrees_of_freedom: 4},"
        " between_specimens: {standard_deviation: 2, degrees_of_freedom: 10}, systematic: 1"
    )
    model = model_of({"x": keys}, read(2, 1))
    assert model.freedom["x"] == pytest.approx([36 / (1 / 4 + 16 / 10)] * 2)


def test_one_product_alone_is_drawn_as_among_the_others() -> None:
    """Uncertainty, correlation and draws of `of_product`."""
    extra = "error_correlations: {plate: {measures: [x, y], component: between_sessions, coefficient: -0.5}}\n"
    catalogue = read(3, 2, "xy", sessions=texts(["A B", "B B", "A A"]))
    keys = "repeatability: 1, between_sessions: 2"
    whole = model_of({"x": keys, "y": f"{keys}, repeats: median"}, catalogue, extra)
    for product in range(3):
        alone = whole.of_product(product)
        assert alone.u["x"][0] == whole.u["x"][product]
        assert alone.correlation("x", "y")[0] == pytest.approx(whole.correlation("x", "y")[product])
        both = alone.draw(DRAWS, np.random.default_rng(3))
        assert both["y"].std() == pytest.approx(whole.u["y"][product], rel=0.015)
        found = np.corrcoef(both["x"][:, 0], both["y"][:, 0])[0, 1]
        assert found == pytest.approx(whole.correlation("x", "y")[product], abs=0.02)


def test_a_component_that_the_readings_cannot_tell_is_a_fault() -> None:
    """It says where, why, and what to write."""
    with pytest.raises(CatalogueError, match=r"measures\.x\.between_sessions pooled, and no product .*State a size"):
        model_of({"x": "repeatability: 1, between_sessions: pooled"}, read(3, 2, sessions=texts(["A A", "B B", "C C"])))
