"""A formula takes measures and ratings from a neighbouring file, one step, and never from elsewhere."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from written_forms import faults_of, form_of

from scoring.addresses.addresses import set_address
from scoring.errors import FormulaError
from scoring.reader import load_sources, read_form

EDITION = """\
formula: edition-7
constants: {k: 2}
attributes: {fire: {values: [ok, none]}}
measures:
  x: {unit: "1"}
ratings:
  edge: {measure: x, curve: {line: {worst: 0, best: 10}}}
scores:
  own: {weights: {edge: 1}}
"""
TAKES = """\
formula: trial
takes: {file: edition-7.yaml, sections: [constants, attributes, measures, ratings]}
scores:
  s: {value: "min(10, edge * k / 2)"}
"""


def write(folder: Path, takes: str = TAKES, edition: str = EDITION) -> Path:
    """A formula and its neighbour."""
    (folder / "edition-7.yaml").write_text(edition, encoding="utf-8")
    path = folder / "trial.yaml"
    path.write_text(takes, encoding="utf-8")
    return path


def test_sections_are_taken_from_the_neighbour_and_scores_are_not(tmp_path: Path) -> None:
    """Measures and ratings are shared; each formula has scores of its own."""
    form = read_form(write(tmp_path))
    assert (form.name, [m.name for m in form.measures]) == ("trial", ["x"])
    assert ([r.name for r in form.ratings], [s.name for s in form.scores]) == (["edge"], ["s"])
    assert [Path(source.name).name for source in form.sources] == ["trial.yaml", "edition-7.yaml"]


def test_without_a_list_of_sections_the_bench_is_taken_and_no_ratings() -> None:
    """Constants, attributes and measures, where the neighbour has them."""
    own = TAKES.replace(", sections: [constants, attributes, measures, ratings]", "").replace(
        "scores:", "ratings:\n  edge: {measure: x, curve: {line: {worst: 1, best: 2}}}\nscores:"
    )
    form = form_of(own, EDITION)
    assert [name for name, _ in form.constants] == ["k"]
    assert len(form.ratings) == 1


def test_a_number_in_the_neighbour_is_set_in_the_neighbour(tmp_path: Path) -> None:
    """The formula's own text stays as it is."""
    form = read_form(write(tmp_path))
    changed = set_address(form, "ratings.edge.curve.line.best", "12")
    assert changed.sources[0] == form.sources[0]
    assert "best: 12}" in changed.sources[1].text
    assert changed.sha256 != form.sha256


def test_a_change_in_the_neighbour_is_a_change_of_the_formula(tmp_path: Path) -> None:
    """The hash covers both texts."""
    before = read_form(write(tmp_path)).sha256
    after = read_form(write(tmp_path, edition=EDITION.replace("best: 10", "best: 11"))).sha256
    assert before != after


@pytest.mark.parametrize(
    "file", ["/etc/passwd", "../edition-7.yaml", "sub/../../edition-7.yaml", "..", '""', '"a\\tb/../c"'],
    ids=["absolute", "parent", "hidden parent", "dots", "empty", "tab"],
)  # fmt: skip
def test_a_file_outside_the_folder_is_refused(file: str, tmp_path: Path) -> None:
    """A stranger's formula reads nothing but its neighbours."""
    path = write(tmp_path, takes=TAKES.replace("edition-7.yaml", file))
    with pytest.raises(
        FormulaError, match=r"trial\.yaml:2:8: .* under takes; expected a file in the same folder or below"
    ):
        read_form(path)


def test_a_neighbour_below_the_folder_is_read(tmp_path: Path) -> None:
    """A folder of editions."""
    (tmp_path / "editions").mkdir()
    path = write(tmp_path, takes=TAKES.replace("edition-7.yaml", "editions/seven.yaml"))
    (tmp_path / "editions" / "seven.yaml").write_text(EDITION, encoding="utf-8")
    assert len(load_sources(path)) == 2


def test_a_neighbour_that_is_not_there_is_refused_and_says_who_names_it(tmp_path: Path) -> None:
    """Both files are named."""
    path = write(tmp_path, takes=TAKES.replace("edition-7.yaml", "edition-8.yaml"))
    with pytest.raises(
        FormulaError, match=r"edition-8\.yaml: No such file.*It is named under `takes` in .*trial\.yaml"
    ):
        read_form(path)


def test_a_chain_of_neighbours_is_refused() -> None:
    """One step only; also a formula that takes from itself ends there."""
    chain = EDITION + "takes: {file: edition-6.yaml}\n"
    assert faults_of(TAKES, chain) == [
        "form.yaml:2:8: a neighbour that itself takes from a file; expected one step only."
    ]
    assert any("one step only" in said for said in faults_of(TAKES, TAKES))


@pytest.mark.parametrize(
    ("takes", "says"),
    [
        (TAKES.replace("ratings]", "scores]"), "form.yaml:2:8: the section `scores` under takes; expected one of constants, attributes, measures, error_correlations, ratings"),
        (TAKES.replace("ratings]", "rating]"), "Did you mean `ratings`?"),
        (TAKES + "measures: {x: {unit: mm}}\n", "the name `x` for a measure and a measure; expected a name that means one thing"),
        (TAKES + "constants: {k: 3}\n", "the name `k` for a constant and a constant; expected a name that means one thing"),
        (TAKES + "attributes: {fire: {}}\n", "the attribute `fire` again, which the formula takes from its neighbour"),
        (TAKES + "ratings:\n  edge: {value: x}\n", "form.yaml:6:3: the name `edge` for a rating and a rating"),
        (TAKES.replace("file:", "files:"), "the key `files` in takes; expected a known key. Did you mean `file`?"),
        (TAKES.replace("{file: edition-7.yaml, sections: [constants, attributes, measures, ratings]}", "edition-7.yaml"),
         "form.yaml:2:8: `edition-7.yaml`; expected `takes` as a mapping of keys"),
    ],
    ids=["scores", "near", "measure twice", "constant twice", "attribute twice", "rating twice", "key", "no mapping"],
)  # fmt: skip
def test_what_cannot_be_taken_is_refused(takes: str, says: str) -> None:
    """Two things of one name would hide one another."""
    assert any(says in said for said in faults_of(takes, EDITION))


def test_a_section_that_the_neighbour_lacks_is_named() -> None:
    """At the neighbour's own place."""
    said = faults_of(TAKES, EDITION.replace("constants: {k: 2}\n", ""))
    assert any(
        one.startswith("beside.yaml:1:1: no `constants`; expected `constants`, which the formula takes") for one in said
    )


def test_faults_of_both_files_are_reported_together() -> None:
    """Each with its own file."""
    said = faults_of(TAKES.replace("edge *", "egde *"), EDITION.replace("best: 10", "best: ten"))
    assert [one.split(": ")[0] for one in said] == ["beside.yaml:7:53", "form.yaml:4:23"]


@pytest.mark.skipif(sys.platform == "win32", reason="links need a right of their own there")
@pytest.mark.parametrize("link", ["file", "folder", "circle"])
def test_a_link_out_of_the_folder_is_refused_and_nothing_of_its_target_is_told(link: str, tmp_path: Path) -> None:
    """A fault of YAML would quote the line it stands in."""
    (tmp_path / "outside").mkdir()
    (tmp_path / "outside" / "edition-7.yaml").write_text("secret: [of: another\n", encoding="utf-8")
    folder = tmp_path / "formulas"
    folder.mkdir()
    target = {"file": "../outside/edition-7.yaml", "folder": "../outside", "circle": "edition-7.yaml"}[link]
    (folder / ("sub" if link == "folder" else "edition-7.yaml")).symlink_to(target)
    path = folder / "trial.yaml"
    path.write_text(TAKES.replace("edition-7", "sub/edition-7" if link == "folder" else "edition-7"), encoding="utf-8")
    with pytest.raises(FormulaError) as caught:
        read_form(path)
    (told,) = str(caught.value).splitlines()
    assert "under takes, a link out of the folder; expected a file that lies in the formula's folder or below" in told
    assert "secret" not in told


@pytest.mark.skipif(sys.platform == "win32", reason="links need a right of their own there")
def test_a_link_within_the_folder_is_followed_and_a_linked_folder_is_its_own(tmp_path: Path) -> None:
    """What a laboratory links among its own files is read."""
    folder = tmp_path / "formulas"
    folder.mkdir()
    write(folder).rename(folder / "linked.yaml")
    (folder / "edition-7.yaml").rename(folder / "edition-of-2026.yaml")
    (folder / "edition-7.yaml").symlink_to("edition-of-2026.yaml")
    (tmp_path / "elsewhere").symlink_to(folder)
    assert [m.name for m in read_form(tmp_path / "elsewhere" / "linked.yaml").measures] == ["x"]
