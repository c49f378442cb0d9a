"""What `--out` never writes over: what the command read, records, and what is somebody else's; folders with a manifest."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
from commands.conftest import READINGS, SMALL
from extent import some

from analysis.outputs import table_files

pytestmark = pytest.mark.usefixtures("pictures_unseen")
STUDY = "study: s\nformula: beds\nvary:\n  - {weights: every score, factor: [0.7, 1.3]}\n"
BRIDGING = "product,old,new\nA-01,60,61\nA-02,120,122\nA-03,80,81\n"
ENDINGS = ("csv", "xlsx", "parquet", "json")


def scored(steelyard: Any, folder: Path, *options: object) -> Any:
    """Score the small laboratory."""
    return steelyard("score", folder / "beds.yaml", folder / "beds.csv", *options)


def refused(result: Any, *said: str) -> None:
    """Exit 2, one problem, in words."""
    assert result.exit_code == 2, result.output
    assert "1 problem; nothing was done." in result.stderr
    for words in said:
        assert words in result.stderr


def contents(folder: Path) -> dict[str, bytes]:
    """Every file of a folder and below."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def by_symlink(path: Path) -> Path:
    """The same file by a link."""
    link = path.with_name(f"link{path.suffix}")
    link.symlink_to(path.name)
    return link


def by_hard_link(path: Path) -> Path:
    """The same file by a second name."""
    second = path.with_name(f"second{path.suffix}")
    os.link(path, second)
    return second


def by_another_spelling(path: Path) -> Path:
    """The same file, a way round."""
    return path.parent / ".." / path.parent.name / path.name


@pytest.mark.parametrize("way", [Path, by_symlink, by_hard_link, by_another_spelling], ids=lambda way: way.__name__)
@pytest.mark.parametrize("force", [[], ["--force"]], ids=["", "force"])
def test_readings_are_never_written_over(
    steelyard: Any, small: Path, way: Callable[[Path], Path], force: list[str]
) -> None:
    """By whatever name they are reached, and whatever is said."""
    out, before = way(small / "beds.csv"), (small / "beds.csv").read_bytes()
    refused(scored(steelyard, small, "--out", out, *force), "it is a file that this command reads")
    assert (small / "beds.csv").read_bytes() == before


@pytest.mark.parametrize(
    ("command", "read"),
    [
        (["sensitivity", "beds.yaml", "beds.csv", "--study", "study.csv"], "study.csv"),
        (["stability", "beds.yaml", "beds.csv", "--study", "study.csv"], "study.csv"),
        (["weights", "beds.yaml", "beds.csv"], "beds.csv"),
        (["compare", "beds.yaml", "beds.yaml", "beds.csv"], "beds.csv"),
        (["compare", "beds.yaml", "beds.yaml", "beds.csv", "--catalogue-new", "new.csv"], "new.csv"),
        (["compare", "beds.yaml", "beds.yaml", "beds.csv", "--bridge", "sit_drop=bridging.csv"], "bridging.csv"),
        (["compare", "beds.html", "beds.yaml", "beds.csv"], "beds.html"),
        (["explore", "taking.yaml", "beds.csv"], "taken.html"),
        (["explore", "beds.html", "beds.csv"], "beds.html"),
        (["score", "beds.yaml", "lab"], "lab/items.csv"),
    ],
    ids=lambda part: " ".join(part) if isinstance(part, list) else part,
)
def test_no_command_writes_over_what_it_reads(
    steelyard: Any, small: Path, monkeypatch: pytest.MonkeyPatch, command: list[str], read: str
) -> None:
    """Formulas, what they take, catalogues with their items, studies, bridges."""
    monkeypatch.chdir(small)
    shutil.copy("beds.yaml", "beds.html")
    shutil.copy("beds.csv", "new.csv")
    Path("study.csv").write_text(STUDY, encoding="utf-8")
    Path("bridging.csv").write_text(BRIDGING, encoding="utf-8")
    text = Path("beds.yaml").read_text(encoding="utf-8")
    at, end = text.index("measures:"), text.index("ratings:")
    Path("taken.html").write_text(f"formula: taken\n{text[at:end]}", encoding="utf-8")
    taking = f"{text[:at]}takes: {{file: taken.html, sections: [measures]}}\n{text[end:]}"
    Path("taking.yaml").write_text(taking, encoding="utf-8")
    Path("lab").mkdir()
    shutil.copy("beds.csv", "lab/readings.csv")
    Path("lab/items.csv").write_text("product\nA-01\nA-02\nA-03\n", encoding="utf-8")
    before = contents(small)
    refused(steelyard(*command, "--out", read, "--force"), "it is a file that this command reads")
    assert contents(small) == before


@pytest.mark.parametrize("ending", ENDINGS)
def test_a_file_of_somebody_else_is_written_over_by_force_alone(steelyard: Any, small: Path, ending: str) -> None:
    """What bears no mark of ours stays; a table of ours of the day before gives way."""
    out = small / f"out.{ending}"
    out.write_bytes(b"product,price\nA-01,400\n")
    refused(scored(steelyard, small, "--out", out), "a file that steelyard did not write", "`--force`")
    assert out.read_bytes() == b"product,price\nA-01,400\n"
    assert scored(steelyard, small, "--out", out, "--force").exit_code == 0
    assert scored(steelyard, small, "--out", out).exit_code == 0


@pytest.mark.parametrize(
    "command",
    [
        ["sensitivity", "--draws", "32"],
        ["stability", "--draws", "100"],
        ["weights"],
        ["compare"],
    ],
    ids=lambda command: command[0],
)
def test_tables_of_every_study_bear_the_mark(steelyard: Any, small: Path, command: list[str]) -> None:
    """Each can be written twice, in each format; or in every other one."""
    formulas = [small / "beds.yaml"] * (2 if command[0] == "compare" else 1)
    endings = (*ENDINGS, "html") if command[0] == "compare" else ENDINGS
    for ending in some(endings, 2):
        for _ in range(2):
            done = steelyard(command[0], *formulas, small / "beds.csv", *command[1:], "--out", small / f"o.{ending}")
            assert done.exit_code == 0, done.stderr


def test_a_page_bears_the_mark_and_one_of_somebody_else_stays(steelyard: Any, small: Path) -> None:
    """Of `explore`."""
    out = small / "page.html"
    for _ in range(2):
        assert steelyard("explore", small / "beds.yaml", small / "beds.csv", "--out", out).exit_code == 0
    out.write_text("<!doctype html><title>Ours</title>", encoding="utf-8")
    refused(steelyard("explore", small / "beds.yaml", small / "beds.csv", "--out", out), "did not write")


def test_a_table_that_was_changed_since_is_not_ours_any_more(steelyard: Any, small: Path) -> None:
    """A column put in after ours; a sheet that another program saved."""
    table, sheet = small / "o.csv", small / "o.xlsx"
    for out in (table, sheet):
        assert scored(steelyard, small, "--out", out).exit_code == 0
    lines = table.read_text(encoding="utf-8").splitlines()
    table.write_text("\n".join([f"{lines[0]},price", *(f"{line},400" for line in lines[1:])]), encoding="utf-8")
    book = openpyxl.load_workbook(sheet)
    book.properties.lastModifiedBy = "An Analyst"
    book.save(sheet)
    for out in (table, sheet):
        refused(scored(steelyard, small, "--out", out), "changed since")


@pytest.mark.parametrize("kind", ["folder", "pipe", "read-only"])
def test_what_is_no_file_that_can_be_written_is_refused(steelyard: Any, small: Path, kind: str) -> None:
    """One line, whatever `--force` says."""
    out = small / "o.csv"
    if kind == "pipe":
        os.mkfifo(out)
    else:
        assert scored(steelyard, small, "--out", out).exit_code == 0
        out.chmod(0o444)
    if kind == "folder":
        out = small / "o.html"
        out.mkdir()
        refused(steelyard("explore", small / "beds.yaml", small / "beds.csv", "--out", out), "a folder stands there")
        return
    said = {"pipe": "no regular file", "read-only": "a file that is read-only"}[kind]
    refused(scored(steelyard, small, "--out", out, "--force"), said)


def test_a_link_is_followed_and_a_mode_is_kept(steelyard: Any, small: Path) -> None:
    """The link stays one, the target is written, and keeps who may read it."""
    target, link = small / "target.csv", small / "link.csv"
    assert scored(steelyard, small, "--out", target).exit_code == 0
    target.chmod(0o600)
    link.symlink_to(target)
    assert scored(steelyard, small, "--set", "scores.reading.weights.quiet=3", "--out", link).exit_code == 0
    assert link.is_symlink()
    assert "weights.quiet=3" in target.read_text(encoding="utf-8")
    assert target.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("force", [[], ["--force"]], ids=["", "force"])
def test_a_folder_of_output_never_holds_the_readings(steelyard: Any, small: Path, force: list[str]) -> None:
    """Neither under their own name nor under that of an output; nor is it the folder that one is in."""
    (small / "lab").mkdir()
    shutil.copy(small / "beds.csv", small / "lab" / "scores.csv")
    before = contents(small)
    result = steelyard("score", small / "beds.yaml", small / "lab" / "scores.csv", "--out", small / "lab", *force)
    refused(result, "scores.csv in it is a file that this command reads")
    refused(scored(steelyard, small, "--out", small, *force), "in it is a file that this command reads")
    assert contents(small) == before


def test_the_working_folder_cannot_be_replaced(steelyard: Any, small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who is in it would be left in the old one."""
    (small / "out").mkdir()
    monkeypatch.chdir(small / "out")
    refused(scored(steelyard, small, "--out", "."), "the folder that you are in", "Name a folder in it.")


def test_a_folder_of_somebody_else_is_taken_by_force_alone_and_keeps_what_it_holds(steelyard: Any, small: Path) -> None:
    """Notes, a folder in it and a link stay; a file in the way is written over."""
    out = small / "out"
    (out / "drafts").mkdir(parents=True)
    (out / "drafts" / "a.txt").write_text("a", encoding="utf-8")
    (out / "scores.csv").write_text("mine", encoding="utf-8")
    (out / "link").symlink_to("drafts")
    refused(
        scored(steelyard, small, "--out", out), "a folder that steelyard did not write, with drafts, link, scores.csv"
    )
    assert scored(steelyard, small, "--out", out, "--force").exit_code == 0
    assert (out / "drafts" / "a.txt").read_text(encoding="utf-8") == "a"
    assert (out / "link").is_symlink()
    assert (out / "scores.csv").read_text(encoding="utf-8") != "mine"


def test_two_commands_share_a_folder_and_each_takes_its_own_old_files_away(steelyard: Any, small: Path) -> None:
    """Pictures of a score that is gone do not stay among those of the formula of today."""
    out = small / "out"
    assert steelyard("weights", small / "beds.yaml", small / "beds.csv", "--out", out).exit_code == 0
    assert scored(steelyard, small, "--out", out).exit_code == 0
    assert (out / "quiet-curve.svg").exists()
    text = (small / "beds.yaml").read_text(encoding="utf-8")
    renamed = text.replace("quiet:", "silent:").replace("quiet: 1", "silent: 1")
    (small / "beds.yaml").write_text(renamed, encoding="utf-8")
    assert scored(steelyard, small, "--out", out).exit_code == 0
    assert not (out / "quiet-curve.svg").exists()
    assert (out / "weights.csv").exists()
    assert steelyard("verify", out).exit_code == 0


def test_a_folder_is_verified_by_its_manifest(steelyard: Any, small: Path) -> None:
    """Whole: exit 0, and what else is there is named. Changed or missing: exit 1. An edited manifest: exit 2."""
    out = small / "out"
    assert scored(steelyard, small, "--out", out).exit_code == 0
    (out / "notes.txt").write_text("mine", encoding="utf-8")
    for path in (out, out / "manifest.json"):
        result = steelyard("verify", path)
        assert result.exit_code == 0, result.output
        assert "Beside them, and not steelyard's: notes.txt." in result.stdout
    (out / "ratings.svg").unlink()
    with (out / "scores.csv").open("a", encoding="utf-8") as stream:
        stream.write("A-04,\n")
    result = steelyard("verify", out)
    assert result.exit_code == 1
    assert "scores.csv was changed since it was written" in result.stdout
    assert "ratings.svg is not there" in result.stdout
    document = json.loads(steelyard("verify", out, "--json").stdout)
    assert {one["name"]: one["state"] for one in document["files"] if one["state"] != "whole"} == {
        "ratings.svg": "missing",
        "scores.csv": "changed",
    }
    assert (document["holds"], document["not_listed"]) == (False, ["notes.txt"])
    refused(scored(steelyard, small, "--out", out), "scores.csv: a file that was changed since it was written")
    manifest = out / "manifest.json"
    text = manifest.read_text(encoding="utf-8")
    manifest.write_text(text.replace('"bytes": ', '"bytes": 1'), encoding="utf-8")
    refused(steelyard("verify", out), "a manifest that is not as it was written")
    manifest.write_text(text.replace("scores.csv", "../beds.csv"), encoding="utf-8")
    refused(steelyard("verify", out), "the file name `../beds.csv`")
    refused(steelyard("verify", out, small / "beds.yaml", small / "beds.csv"), "the folder alone")
    assert scored(steelyard, small, "--out", out, "--force").exit_code == 0
    assert steelyard("verify", out).exit_code == 0


def test_a_record_in_a_folder_of_output_is_never_in_the_way(steelyard: Any, small: Path) -> None:
    """One of the name of an output is refused, whatever is said; any other stays."""
    out = small / "out"
    assert scored(steelyard, small, "--out", out).exit_code == 0
    kept = steelyard("record", small / "beds.yaml", small / "beds.csv", "--out", out / "r.json", "--date", "2025-03-01")
    assert kept.exit_code == 0
    before = (out / "r.json").read_bytes()
    assert scored(steelyard, small, "--out", out).exit_code == 0
    assert (out / "r.json").read_bytes() == before
    (out / "scores.json").write_bytes(before)
    for force in ([], ["--force"]):
        refused(scored(steelyard, small, "--out", out, *force), "scores.json: a steelyard record stands there")
    assert (out / "scores.json").read_bytes() == before


#: Takes from root what makes modes mean nothing to it.
BOUND = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"]
ROOT = Path(__file__).parents[2]


#: What is run beside a folder `shut` that has a mode; all but the last are refused.
SHUT = [
    (0o444, "score beds.yaml shut"),
    (0o444, "score beds.yaml shut/readings.csv"),
    (0o444, "check beds.yaml shut"),
    (0o444, "new --from shut"),
    (0o444, "score beds.yaml beds.csv --out shut"),
    (0o444, "score beds.yaml beds.csv --out shut/o.csv"),
    (0o444, "explore beds.yaml beds.csv --out shut/o.html"),
    (0o444, "verify shut"),
    (0o444, "verify shut/r.json"),
    (0o444, "tour shut"),
    (0o555, "score beds.yaml beds.csv --out shut"),
    (0o555, "new --from beds.csv --out shut/n.yaml"),
    (0o555, "record beds.yaml beds.csv --date 2025-03-01 --out shut/r.json"),
    (0o333, "score beds.yaml shut"),
    (0o000, "score beds.yaml beds.csv --out shut/new"),
    (0o333, "score beds.yaml beds.csv --out shut/o.csv"),
]
#: Runs the command in one folder after another, each time in a child of its own; what is imported is imported once.
IN_EACH = """
import os, sys, traceback
import analysis.cli.tour, pandas, sympy
from analysis.cli.start import main
for folder in sys.argv[1:]:
    child = os.fork()
    if child == 0:
        os.chdir(folder)
        for name, number in (("stdout", 1), ("stderr", 2)):
            os.dup2(os.open(name, os.O_WRONLY | os.O_CREAT, 0o600), number)
        sys.argv = ["steelyard", *open("words").read().split()]
        code = 0
        try:
            main()
        except SystemExit as left:
            code = left.code or 0
        except BaseException:
            traceback.print_exc()
            code = 1
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    with open(os.path.join(folder, "code"), "w") as file:
        file.write(str(code))
"""


@pytest.fixture(scope="module")
def beside_shut(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[tuple[int, str], Path]]:
    """For each case the folder in which it was run, with its exit code and both outputs, as somebody whom modes bind."""
    if os.name == "nt" or (os.geteuid() == 0 and shutil.which("setpriv") is None):
        pytest.skip("nobody here is bound by the modes of folders")
    folders = {}
    for case in SHUT:
        folder = folders[case] = tmp_path_factory.mktemp("beside")
        for name, text in (("beds.yaml", SMALL), ("beds.csv", READINGS), ("words", case[1])):
            (folder / name).write_text(text, encoding="utf-8")
        (folder / "shut").mkdir()
        (folder / "shut").chmod(case[0])
    subprocess.run(
        [*(BOUND if os.geteuid() == 0 else []), sys.executable, "-c", IN_EACH, *map(str, folders.values())],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=True,
    )
    yield folders
    for folder in folders.values():
        (folder / "shut").chmod(0o700)


@pytest.mark.parametrize(("mode", "command"), SHUT[:-1])
def test_a_folder_without_permission_is_exit_2_and_no_traceback(
    beside_shut: dict[tuple[int, str], Path], mode: int, command: str
) -> None:
    """To read, to write or to look into."""
    folder = beside_shut[mode, command]
    said = (folder / "stderr").read_text(encoding="utf-8")
    assert (folder / "code").read_text() == "2", said
    assert "Traceback" not in said
    assert "shut" in said


def test_a_folder_that_takes_files_and_shows_none_takes_a_table(beside_shut: dict[tuple[int, str], Path]) -> None:
    """A drop box: what lies in it cannot be listed, so nothing is tidied there, and the table is written whole."""
    folder = beside_shut[SHUT[-1]]
    assert (folder / "code").read_text() == "0", (folder / "stderr").read_text(encoding="utf-8")
    (folder / "shut").chmod(0o700)
    assert [path.name for path in (folder / "shut").iterdir()] == ["o.csv"]


def with_attributes(small: Path, *names: str) -> None:
    """Put attribute columns, declared in the formula, into the small laboratory; each cell is its name and a number."""
    declared = "".join(f"  {json.dumps(name)}: {{label: L}}\n" for name in names)
    text = (small / "beds.yaml").read_text(encoding="utf-8")
    (small / "beds.yaml").write_text(text.replace("attributes:\n", f"attributes:\n{declared}"), encoding="utf-8")
    head, *rows = (small / "beds.csv").read_text(encoding="utf-8").splitlines()
    lines = [",".join([head, *names]), *(",".join([row, *(f"{n} {i}" for n in names)]) for i, row in enumerate(rows))]
    (small / "beds.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.mark.parametrize("ending", ["csv", "parquet", "xlsx"])
def test_an_attribute_of_the_name_of_a_column_is_not_lost(steelyard: Any, small: Path, ending: str) -> None:
    """Both are there: ours under its name, the attribute led by `attribute.`."""
    names = ("set", "formula", "cautions", "formula_sha256")
    with_attributes(small, *names)
    out = small / f"o.{ending}"
    done = scored(steelyard, small, "--set", "scores.reading.weights.quiet=3", "--out", out)
    assert done.exit_code == 0, done.stderr
    frame = {"csv": pd.read_csv, "parquet": pd.read_parquet, "xlsx": pd.read_excel}[ending](out)
    for name in names:
        assert list(frame[f"attribute.{name}"]) == [f"{name} {i}" for i in range(3)]
    assert set(frame["set"]) == {"scores.reading.weights.quiet=3"}
    assert set(frame["formula"]) == {"beds 1.0.0"}
    assert scored(steelyard, small, "--out", out).exit_code == 0  # and it still says that it is ours


def test_an_attribute_of_the_name_of_an_errors_text_is_a_text_in_a_sheet(steelyard: Any, small: Path) -> None:
    """`#N/A` is what the catalogue says, not an error of the sheet; a formula stays a text, too."""
    text = (small / "beds.csv").read_text(encoding="utf-8")
    text = text.replace("Vorrlin", "#N/A").replace("Dapquist", "#DIV/0!").replace("Plumvane", "=1+1")
    (small / "beds.csv").write_text(text, encoding="utf-8")
    assert scored(steelyard, small, "--out", small / "o.xlsx").exit_code == 0
    cells = [row[1] for row in openpyxl.load_workbook(small / "o.xlsx").active.iter_rows(min_row=2)]
    assert [(cell.value, cell.data_type) for cell in cells] == [("#N/A", "s"), ("#DIV/0!", "s"), ("'=1+1", "s")]


@pytest.mark.parametrize(
    ("limit", "said"),
    [
        ("MOST_ROWS", "4 rows; expected at most 3"),
        ("MOST_COLUMNS", "columns; expected at most 3"),
        ("MOST_CELLS", "cells; expected at most 3"),
        ("MOST_CHARACTERS", "characters in one cell; expected at most 3"),
    ],
)
def test_a_sheet_that_cannot_hold_the_table_is_refused(
    steelyard: Any, small: Path, monkeypatch: pytest.MonkeyPatch, limit: str, said: str
) -> None:
    """One line, with what to write instead, and no file."""
    monkeypatch.setattr(table_files, limit, 3)
    refused(scored(steelyard, small, "--out", small / "o.xlsx"), said, "Write it as .csv or .parquet.")
    assert not (small / "o.xlsx").exists()
    assert scored(steelyard, small, "--out", small / "o.csv").exit_code == 0
