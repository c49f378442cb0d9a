"""`steelyard tour`: the invented laboratory, written out, scored, stress-tested and published."""

from __future__ import annotations

from importlib.resources import as_file, files
from importlib.resources.abc import Traversable
from pathlib import Path

from analysis.cli import appendix, check, explain, explore, record, score, sensitivity, stability, verify
from analysis.cli.terminal import say
from analysis.indices.report import AskedOfIndices
from analysis.outputs.guard import Guard
from analysis.outputs.whole_files import write_whole
from scoring.errors import FileError, Place, Problem

LABORATORY = (
    "guest-bed.yaml",
    "study.yaml",
    "steelyard.yaml",
    "items.csv",
    "readings.csv",
    "laboratory.json",
    "generate.py",
    "README.md",
)
SHOWN = "QB-019"
#: The day on which the invented laboratory publishes; a record's date is always given, never taken from a clock.
PUBLISHED = "2026-06-01"


def run(folder: Path) -> None:
    """Write the laboratory into a folder and show what the tool says of it."""
    formula = folder / "guest-bed.yaml"
    write_laboratory(folder)
    say(
        f"An invented laboratory is written to {folder}: the Quillmere Bench Co-operative, its 60 beds and their readings.",
        "No maker, model, reading or weight in it is real. What follows is as you would type it:",
        "  check: what is proved of the formula, and what its author should look at;",
        "  score: the five composites, with places;",
        "  explain: one score, number by number; here a limit holds it back;",
        "  sensitivity: which judgement moves the rankings, with what its judges would argue about (study.yaml);",
        "  stability: how firm the places are, and what the bench cannot tell apart;",
        "  appendix, explore, record: the methods appendix, a page to try the formula on, and a record with its fingerprint, "
        "which verify holds against formula and readings.",
        "What to try next stands at the end.",
    )
    step(f"steelyard check {formula} {folder}")
    check.run(formula, folder, [], instead="", as_json=False, out=None, seed=0)
    step(f"steelyard score {formula} {folder}")
    score.run(formula, folder, [], only=None, ratings=False, as_json=False, out=None)
    step(f"steelyard explain {formula} {folder} {SHOWN} --score restless_night")
    explain.run(formula, folder, SHOWN, [], only="restless_night", without=[], as_json=False, out=None, seed=0)
    study_both(formula, folder)
    publish(formula, folder)
    say(
        "",
        "What to look at next:",
        f"  {folder / 'appendix' / 'appendix.html'} and {folder / 'page.html'}, in a browser;",
        f"  {formula} is the formula; change a number and score again, or try it without touching the file:",
        f"    steelyard score {formula} {folder} --set scores.two_abed.weights.quiet=0.3",
        "  every number in it has such an address:",
        f"    steelyard check {formula} --addresses",
        "  a maker disputes the third noise reading of QB-009:",
        f"    steelyard explain {formula} {folder} QB-009 --score two_abed --without noise_dba/3",
        "  one score's study in full, and its figures:",
        f"    steelyard stability {formula} {folder} --study {folder / 'study.yaml'} --score two_abed --out {folder / 'figures'}",
        "  the table for a spreadsheet, a database or a program:",
        f"    steelyard score {formula} {folder} --out {folder / 'scores.xlsx'}",
        whole=True,
    )


def study_both(formula: Path, folder: Path) -> None:
    """Both studies of every score, from fewer draws than they take by themselves."""
    study = folder / "study.yaml"
    step(f"steelyard sensitivity {formula} {folder} --study {study} --draws 1024")
    sensitivity.run(formula, folder, [], study, AskedOfIndices(draws=1024))
    step(f"steelyard stability {formula} {folder} --study {study} --draws 4096")
    stability.run(
        formula,
        folder,
        [],
        study,
        only=[],
        top=None,
        draws=4096,
        coverage=0.95,
        at_once=False,
        resolved=False,
        as_json=False,
        out=None,
        seed=0,
    )


def publish(formula: Path, folder: Path) -> None:
    """The appendix, the page and the record; a record that stands there already is not written over, and is verified."""
    study, page, kept = folder / "study.yaml", folder / "page.html", folder / "record.json"
    step(f"steelyard appendix {formula} {folder} --study {study} --out {folder / 'appendix'} --date {PUBLISHED}")
    appendix.run(
        formula,
        folder,
        [],
        out=folder / "appendix",
        previous=None,
        study=study,
        draws=256,
        date=PUBLISHED,
        seed=0,
    )
    step(f"steelyard explore {formula} {folder} --out {page}")
    explore.run(formula, folder, [], out=page)
    step(f"steelyard record {formula} {folder} --out {kept} --date {PUBLISHED}")
    if kept.exists():
        say(f"{kept} stands there already, and no record is written over.")
    else:
        record.run(formula, folder, [], out=kept, date=PUBLISHED, corrects=None, cause=None)
    step(f"steelyard verify {kept} {formula} {folder}")
    verify.run(kept, formula, folder, as_json=False)


def step(command: str) -> None:
    """Announce a command as a person would type it."""
    say("", f"$ {command}", "", whole=True)


def write_laboratory(folder: Path) -> None:
    """Copy the laboratory's files, which come with the package, into a folder that is made if need be.

    Raises
    ------
    FileError
        The folder cannot be made or written to, or a file of another content stands in the way.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        contents = {name: laboratory_file(name).read_bytes() for name in LABORATORY}
        changed = [name for name, content in contents.items() if _differs(folder / name, content)]
    except OSError as fault:
        raise FileError([Problem(Place(str(folder)), fault.strerror or "it cannot be made", "a folder")]) from None
    if changed:
        hint = "Name another folder, or move these files away."
        raise FileError(
            [Problem(Place(str(folder / n)), "a file of another content", "no such file", hint) for n in changed]
        )
    for name, content in contents.items():
        if not (folder / name).exists():
            write_whole(folder / name, content, Guard())


def _differs(path: Path, content: bytes) -> bool:
    return path.exists() and not (path.is_file() and path.read_bytes() == content)


def laboratory_file(name: str) -> Traversable:
    """A file of the laboratory: inside the installed package, or in a checkout's examples."""
    packaged = files("analysis").joinpath("laboratory", name)
    if packaged.is_file():
        return packaged
    with as_file(files("analysis")) as here:
        return Path(here).parent / "examples" / "laboratory" / name
