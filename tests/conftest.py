"""Settings of every test: no deadlines, the same examples each time where the variable CI is set, and `--long`."""

from __future__ import annotations

import gc
import os
from collections.abc import Iterator
from functools import cache

import pytest
import typer.testing
from extent import ASKED
from hypothesis import HealthCheck, settings
from laboratory_runs import LaboratoryRuns
from unseen import pictures_unseen

from analysis.cli.start import NEW_OBJECTS

SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large]
#: Examples of a property that names no number of its own: those of a long run, and of every other.
ALL, FEW = 100, 20

# As the command does: a third of the time in which tests are collected went on looking for circles among what stays.
gc.set_threshold(NEW_OBJECTS)
# What runs a command line in a test makes all commands anew each time, from the same declarations.
typer.testing._get_command = cache(typer.testing._get_command)


def pytest_addoption(parser: pytest.Parser) -> None:
    """One option for all that takes long."""
    parser.addoption("--long", action="store_true", help="also every example, and simulations at their full size")


def pytest_configure(config: pytest.Config) -> None:
    """Said before test modules are read, since they ask how many examples to take; workers are given the option too."""
    config.addinivalue_line("markers", "long: only with --long; a smaller version stands beside it")
    if config.getoption("--long"):
        os.environ[ASKED] = "1"
    many = ALL if config.getoption("--long") else FEW
    same = bool(os.environ.get("CI"))
    settings.register_profile(
        "steelyard", deadline=None, suppress_health_check=SLOW, derandomize=same, max_examples=many
    )
    settings.load_profile("steelyard")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what only a long run takes, and say how many."""
    if config.getoption("--long"):
        return
    left_out = [item for item in items if item.get_closest_marker("long")]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if not item.get_closest_marker("long")]


def pytest_collection_finish(session: pytest.Session) -> None:
    """All that was read stays to the end: it is looked through no more."""
    gc.freeze()


def pytest_runtest_teardown(item: pytest.Item, nextitem: pytest.Item | None) -> None:
    """Circles, such as pictures are, go at the end of each file: kept to the end they would fill the memory."""
    if nextitem is None or nextitem.path != item.path:
        gc.collect()


@pytest.fixture(scope="session")
def laboratory_runs(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> LaboratoryRuns:
    """Command lines on the laboratory, run once for all workers: their folders stand in one folder of the run."""
    own = tmp_path_factory.getbasetemp()
    shared = (own.parent if hasattr(request.config, "workerinput") else own) / "laboratory-runs"
    shared.mkdir(exist_ok=True)
    return LaboratoryRuns(shared)


@pytest.fixture(name="pictures_unseen")
def in_one_test() -> Iterator[None]:
    """No figure is drawn: the test is of files and words, and not of what stands on pictures."""
    with pictures_unseen():
        yield


@pytest.fixture(scope="module", name="no_picture_is_seen")
def in_a_module() -> Iterator[None]:
    """The same of all tests of a module, and of what is made once for them."""
    with pictures_unseen():
        yield
