"""One appendix of the trial laboratory, worked out once for all tests of a file."""

from __future__ import annotations

import pytest
from appendix.trial import worked

from analysis.languages.facts import Facts
from analysis.languages.renderers import render
from analysis.methods_appendix.assembly import facts_of
from analysis.methods_appendix.workings import Workings

Files = dict[str, bytes]


@pytest.fixture(scope="session")
def found(tmp_path_factory: pytest.TempPathFactory) -> Workings:
    """Everything worked out of the trial laboratory."""
    return worked(tmp_path_factory.mktemp("trial"))


@pytest.fixture(scope="session")
def facts(found: Workings) -> Facts:
    """Its facts."""
    return facts_of(found)


@pytest.fixture(scope="session")
def files(facts: Facts) -> Files:
    """Its files."""
    return render(facts)


@pytest.fixture(scope="session")
def page(files: Files) -> str:
    """The page in HTML."""
    return files["appendix.html"].decode()


@pytest.fixture(scope="session")
def markdown(files: Files) -> str:
    """The page in Markdown."""
    return files["appendix.md"].decode()
