"""Nothing is published that was not named: words that a laboratory keeps for itself are planted wherever a file has room for
them, and no output of any command, in any format, holds one.

The terminal is the lead's own: what it may say is stated beside each command, and all else is a publication.
"""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from commands.conftest import Steelyard
from extent import only_long
from pypdf import PdfReader
from unseen import pictures_unseen

from analysis import (
    check,
    compare,
    explain,
    flip,
    repeatability,
    reread,
    score_report,
    sensitivity,
    stability,
    verify,
    weights,
)
from analysis.report.endings import ENDINGS
from analysis.report.files import write_report
from analysis.report.report import Report
from scoring import read_catalogue, read_formula, score

#: How every planted word begins; letters alone, so that no typesetter breaks one at a dash.
PLANTED = re.compile(r"hush[a-z]+")
FORM = """\
formula: beds   # hushcomment: a guess of K.
version: 1.0.0
scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}
bands: {strong: 7, fair: 4, weak: 1}
attributes:
  maker: {label: Maker}
  fire_evidence: {public: no}
measures:
  noise: {unit: dB, better: lower, plausible: [18, 75], repeatability: 1.2}
  sit_drop: {unit: mm, better: lower, plausible: [15, 170], repeatability: 2.5}
ratings:
  quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}
  edge: {measure: sit_drop, curve: {points: {40: 10, 80: 6, 135: 1}}}
scores:
  reading:
    label: Reading upright
    blend: weighted mean
    weights: {edge: 3, quiet: 1}
    missing: {needs: [edge], absent_above: 0.3}
gates:
  - {when: fire_evidence == none, withhold: no evidence of fire behaviour}
"""
STUDY = """\
study: mine   # hushcomment
formula: beds
vary:
  - {weights: reading, plus_minus: 0.2}
"""
WIDE = """\
product,maker,fire_evidence,noise #1,noise #2,sit_drop,Notes,hushheader,session,hushmeasure [mm]
A-01,Vorrlin,hushprivate,31,33,60,hushnotes,hushcell,hushsession,3
A-02,Dapquist,,22,22,90,,hushcell,hushsession,4
A-03,Plumvane,hushprivate,missing: hushreason,,80,hushnotes,,hushsession,5
A-04,Vorrlin,none,28,29,70,hushnotes,,hushsession,6
"""
ITEMS = """\
product,maker,fire_evidence,Notes,hushheader
A-01,Vorrlin,hushprivate,hushnotes,hushcell
A-02,Dapquist,,hushnotes,hushcell
A-03,Plumvane,hushprivate,hushnotes,
A-04,Vorrlin,none,,hushcell
"""
LONG = """\
product,measure,repeat,value,reason,operator,session,specimen,date,Notes,hushheader
A-01,noise,1,31,,hushoperator,hushsession,hushspecimen,2026-01-02 hushdate,hushnotes,hushcell
A-01,noise,2,33,,hushoperator,hushsession,hushspecimen,2026-01-02 hushdate,hushnotes,hushcell
A-01,sit_drop,1,60,,hushoperator,hushsession,hushspecimen,2026-01-02 hushdate,hushnotes,hushcell
A-01,hushmeasure,1,3,,hushoperator,hushsession,hushspecimen,2026-01-02 hushdate,hushnotes,hushcell
A-02,noise,1,22,,hushoperator,hushsession,hushspecimen,2026-01-02 hushdate,,
A-02,noise,2,22,,hushoperator,hushsession,hushspecimen,2026-01-02 hushdate,,
A-02,sit_drop,1,90,,hushoperator,hushsession,hushspecimen,2026-01-02 hushdate,,
A-03,noise,1,missing: hushreason,,hushoperator,hushsession,hushspecimen,2026-01-02 hushdate,hushnotes,
A-03,sit_drop,1,80,,hushoperator,hushsession,hushspecimen,2026-01-02 hushdate,hushnotes,
A-04,noise,1,28,,hushoperator,hushsession,hushspecimen,2026-01-02 hushdate,hushnotes,
A-04,noise,2,29,,hushoperator,hushsession,hushspecimen,2026-01-02 hushdate,hushnotes,
A-04,sit_drop,1,70,,hushoperator,hushsession,hushspecimen,2026-01-02 hushdate,hushnotes,
"""


def wide(folder: Path) -> Path:
    """A row a product."""
    path = folder / "beds.csv"
    path.write_text(WIDE, encoding="utf-8")
    return path


def listed_items(folder: Path) -> Path:
    """A row a reading, and a file of items beside it."""
    path = folder / "beds"
    path.mkdir()
    (path / "readings.csv").write_text(LONG, encoding="utf-8")
    (path / "items.csv").write_text(ITEMS, encoding="utf-8")
    return path


Catalogued = Callable[[Path], Path]
#: What the terminal may say to the lead of any command: which columns it did not read, and where files lie.
NAMED = {"hushheader", "hushmeasure", "hushfolder"}
PAGES = (".html", ".md", ".tex", ".typ", ".pdf")
Made = Callable[[Path, Path], Report]
#: Each command, and the same from Python, which gives what is written in every format.
STUDIES: dict[str, tuple[tuple[str, ...], Made]] = {
    "check": (("check", "FORM", "BEDS"), check),
    "check --repeatability": (("check", "FORM", "BEDS", "--repeatability"), repeatability),
    "score": (("score", "FORM", "BEDS"), score_report),
    "score --score": (
        ("score", "FORM", "BEDS", "--score", "reading"),
        lambda form, beds: score_report(form, beds, score="reading"),
    ),
    "explain": (("explain", "FORM", "BEDS", "A-01"), lambda form, beds: explain(form, beds, "A-01")),
    "explain a gap": (("explain", "FORM", "BEDS", "A-03"), lambda form, beds: explain(form, beds, "A-03")),
    "sensitivity": (
        ("sensitivity", "FORM", "BEDS", "--draws", "256"),
        lambda form, beds: sensitivity(form, beds, draws=256),
    ),
    "sensitivity with a study": (
        ("sensitivity", "FORM", "BEDS", "--study", "STUDY", "--draws", "256"),
        lambda form, beds: sensitivity(form, beds, study=form.parent / "study.yaml", draws=256),
    ),
    "stability": (("stability", "FORM", "BEDS", "--draws", "128"), lambda form, beds: stability(form, beds, draws=128)),
    "compare": (
        ("compare", "FORM", "FORM", "BEDS", "--set", "scores.reading.weights.quiet=3"),
        lambda form, beds: compare(form, form, beds),
    ),
    "compare catalogues": (
        ("compare", "FORM", "FORM", "BEDS", "--catalogue-new", "NEW"),
        lambda form, beds: compare(form, form, beds, catalogue_new=form.parent / "new.csv"),
    ),
    "weights": (("weights", "FORM", "BEDS"), weights),
    "flip": (("flip", "FORM", "BEDS", "A-02", "A-01"), lambda form, beds: flip(form, beds, "A-02", "A-01")),
    "reread": (("reread", "FORM", "BEDS", "--score", "reading"), reread),
    "verify": (
        ("verify", "RECORD", "FORM", "BEDS"),
        lambda form, beds: verify(form.parent / "record.json", form, beds),
    ),
}
#: What is asked of a wide file by every change; of the others in a long run.
QUICK = ("check", "score", "explain a gap", "verify")
#: What the terminal alone may say besides: an answer to the lead needs the reason and the word that a gate goes by.
SPOKEN = {"explain": {"hushprivate"}, "explain a gap": {"hushprivate", "hushreason"}}
#: Where sessions and specimens are named in every format: a wild reading is found by them, and this is no publication.
CONDITIONS = {"check --repeatability": {"hushsession", "hushspecimen"}}
#: What holds the formula's text as it is written, comments and all, and says so.
WITH_TEXT = {"explore": {"hushcomment"}, "record": {"hushcomment"}}
OTHERS: dict[str, tuple[str, ...]] = {
    "appendix": (
        "appendix",
        *("FORM", "BEDS", "--study", "STUDY", "--previous", "FORM", "--draws", "256", "--out", "OUT/appendix"),
    ),
    "explore": ("explore", "FORM", "BEDS", "--out", "OUT/page.html"),
    "record": ("record", "FORM", "BEDS", "--date", "2026-01-02", "--out", "OUT/record.json"),
    "new": ("new", "--from", "BEDS"),
}


def written(content: bytes, ending: str) -> Iterator[str]:
    """Every text in a file: what is packed is unpacked; a picture of dots has its words in the picture of lines beside it."""
    yield content.decode("latin-1")
    if ending == ".xlsx":
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            yield from (archive.read(name).decode() for name in archive.namelist())
    elif ending == ".parquet":
        table = pq.read_table(io.BytesIO(content))
        yield json.dumps(table.to_pylist(), ensure_ascii=False) + str(table.schema.metadata)
    elif ending == ".pdf":
        pdf = PdfReader(io.BytesIO(content))
        yield str(pdf.metadata)
        # a word that is broken over two lines is one again
        yield re.sub(r"[\s\u00ad-]", "", "".join(page.extract_text() for page in pdf.pages))


def planted_in(folder: Path) -> set[str]:
    """The planted words in everything under a folder."""
    files = [path for path in sorted(folder.rglob("*")) if path.is_file()]
    assert files, "nothing was written"
    texts = (text for path in files for text in written(path.read_bytes(), path.suffix))
    return {word for text in texts for word in PLANTED.findall(text)}


@pytest.fixture
def beds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder whose own name is nobody's business, on the account of somebody."""
    for variable in ("USER", "LOGNAME", "USERNAME"):
        monkeypatch.setenv(variable, "hushuser")
    folder = tmp_path / "hushfolder"
    folder.mkdir()
    (folder / "beds.yaml").write_text(FORM, encoding="utf-8")
    (folder / "study.yaml").write_text(STUDY, encoding="utf-8")
    anew = WIDE.replace("hushprivate", "hushprivately").replace("hushreason", "hushreasoned").replace(",60,", ",75,")
    (folder / "new.csv").write_text(anew, encoding="utf-8")
    return folder


def run(steelyard: Steelyard, folder: Path, catalogue: Path, command: tuple[str, ...]) -> str:
    """What a command says; OUT is the folder `out` beside the other."""
    out = folder.parent / "out"
    out.mkdir(exist_ok=True)
    places = {"FORM": folder / "beds.yaml", "BEDS": catalogue, "RECORD": folder / "record.json"}
    places |= {"STUDY": folder / "study.yaml", "NEW": folder / "new.csv"}
    with pictures_unseen():
        done = steelyard(*(places.get(word, word.replace("OUT", str(out))) for word in command))
    assert done.exit_code == 0, done.output
    return done.output


CASES = [
    pytest.param(name, catalogue, marks=[only_long] * (catalogue is wide and name not in QUICK), id=f"{name}-{kind}")
    for name in STUDIES
    for kind, catalogue in (("items", listed_items), ("wide", wide))
]


@pytest.mark.parametrize(("name", "catalogue"), CASES)
def test_a_study_says_what_it_may_to_the_lead_and_publishes_nothing_else(
    steelyard: Steelyard, beds: Path, name: str, catalogue: Catalogued
) -> None:
    """The terminal, the document, a folder, and a file in every format."""
    held, kept, (command, of) = catalogue(beds), CONDITIONS.get(name, set()), STUDIES[name]
    if "RECORD" in command:
        run(steelyard, beds, held, ("record", "FORM", "BEDS", "--date", "2026-01-02", "--out", "RECORD"))
    said = run(steelyard, beds, held, command)
    assert set(PLANTED.findall(said)) <= NAMED | kept | SPOKEN.get(name, set())
    document = run(steelyard, beds, held, (*command, "--json"))
    assert set(PLANTED.findall(document)) <= kept
    run(steelyard, beds, held, (*command, "--out", "OUT/folder"))
    report = of(beds / "beds.yaml", held)
    with pictures_unseen():
        for ending in ENDINGS:
            write_report(report, beds.parent / "out" / f"result{ending}")
    assert planted_in(beds.parent / "out") <= kept
    # a notebook is handed on like a page
    assert set(PLANTED.findall(report._repr_html_())) <= kept


@pytest.mark.parametrize("name", OTHERS)
def test_a_publication_holds_no_planted_word(steelyard: Steelyard, beds: Path, name: str) -> None:
    """The appendix with its workings, the live page with all that it knows, the record, and a first formula."""
    said = run(steelyard, beds, listed_items(beds), OTHERS[name])
    assert set(PLANTED.findall(said)) <= NAMED | {"hushmeasure"}
    if name != "new":
        assert planted_in(beds.parent / "out") == WITH_TEXT.get(name, set())


@pytest.mark.parametrize("catalogue", [listed_items, wide])
def test_a_notebook_shows_no_planted_word(beds: Path, catalogue: Catalogued) -> None:
    """Formula, catalogue and score table as a notebook shows them, and the frames of the table."""
    formula = read_formula(beds / "beds.yaml")
    held = read_catalogue(catalogue(beds), formula)
    table = score(formula, held)
    shown = [one._repr_html_() for one in (formula, held, table)]
    shown += [frame.to_csv() for frame in (table.frame(), table.frame("reading"), table.readings_frame())]
    assert not set(PLANTED.findall("\n".join(shown)))
    assert "hushreason" in held.frame().to_csv()
