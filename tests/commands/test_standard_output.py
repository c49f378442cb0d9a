"""Standard output in the hands of a shell: a reader that goes away, a full disk, an encoding of few letters, an interrupt.

Some of each in a process of its own, up to its very end; others here, into a descriptor, which starts nothing anew.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from extent import some

from analysis.cli import terminal
from analysis.cli.main import main
from analysis.json_text import json_pieces

COMMAND = [sys.executable, "-c", "from analysis.cli.start import main; main()"]
ROOT = Path(__file__).parents[2]
POSIX = pytest.mark.skipif(os.name == "nt", reason="pipes and signals of POSIX")


def started(*arguments: object, **how: Any) -> subprocess.Popen[bytes]:
    """A command in a process of its own."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **how.pop("environment", {})}
    return subprocess.Popen([*COMMAND, *map(str, arguments)], env=environment, stderr=subprocess.PIPE, **how)


def here(*arguments: object, to: int, encoding: str = "utf-8") -> tuple[int, str]:
    """Exit code and complaints of a command in this process, whose standard output is an open descriptor."""
    said = io.StringIO()
    with pytest.MonkeyPatch.context() as patch, open(to, "w", encoding=encoding) as stream:
        patch.setattr(sys, "argv", ["steelyard", *map(str, arguments)])
        patch.setattr(sys, "stdout", stream)
        with contextlib.redirect_stderr(said), pytest.raises(SystemExit) as ended:
            main()
    return int(ended.value.code or 0), said.getvalue()


def printed(*arguments: object, encoding: str) -> tuple[int, bytes, str]:
    """Exit code and both outputs of a command whose standard output has an encoding."""
    environment = {"PYTHONIOENCODING": encoding}
    process = started(*arguments, stdout=subprocess.PIPE, environment=environment)
    out, err = process.communicate()
    return process.returncode, out, err.decode()


def printed_here(folder: Path, *arguments: object, encoding: str) -> tuple[int, bytes, str]:
    """The same of a command in this process, by way of a file of the folder."""
    out = folder / "printed"
    code, err = here(*arguments, to=os.open(out, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), encoding=encoding)
    return code, out.read_bytes(), err


@pytest.fixture
def polish(small: Path) -> Path:
    """The small laboratory with a product `Zażółć-01`."""
    text = (small / "beds.csv").read_text(encoding="utf-8")
    (small / "beds.csv").write_text(text.replace("A-01", "Zażółć-01"), encoding="utf-8")
    return small


def gone(*arguments: object) -> tuple[int, str]:
    """Exit code and complaints of a command whose reader has gone before it prints."""
    read, write = os.pipe()
    os.close(read)
    process = started(*arguments, stdout=write)
    os.close(write)
    _, err = process.communicate()
    return process.returncode, err.decode()


def gone_here(*arguments: object) -> tuple[int, str]:
    """The same of a command in this process."""
    read, write = os.pipe()
    os.close(read)
    return here(*arguments, to=write)


@POSIX
def test_a_reader_that_goes_away_changes_nothing_of_the_work(small: Path) -> None:
    """`| head`: exit 0 where no finding stands, 1 where one does, and what was to be written is written."""
    formula, catalogue, out = small / "beds.yaml", small / "beds.csv", small / "record.json"
    assert gone_here("score", formula, catalogue) == (0, "")
    assert gone("score", formula, catalogue, "--json", "--out", small / "o.csv") == (0, "")
    assert (small / "o.csv").exists()
    assert gone_here("record", formula, catalogue, "--out", out, "--date", "2025-03-01") == (0, "")
    assert gone_here("verify", out, formula, catalogue) == (0, "")
    catalogue.write_text(catalogue.read_text(encoding="utf-8").replace("31,32,33", "31,32,36"), encoding="utf-8")
    assert gone("verify", out, formula, catalogue) == (1, "")


FULL = "standard output: it cannot be written (No space left on device); expected room for what is printed\n"
WITH_FULL_DISK = pytest.mark.skipif(not Path("/dev/full").exists(), reason="a disk that is always full")


@WITH_FULL_DISK
@pytest.mark.parametrize("command", ["score beds.yaml beds.csv --json", "--help"])
def test_a_full_disk_is_one_line_and_exit_2(small: Path, command: str) -> None:
    """Noticed in a document, and in the help."""
    with open("/dev/full", "wb") as full:
        process = started(*command.split(), stdout=full, cwd=small)
        _, err = process.communicate()
    assert (process.returncode, err.decode()) == (2, FULL)


@WITH_FULL_DISK
@pytest.mark.parametrize("command", ["score beds.yaml beds.csv", "new --from beds.csv", "schema --page"])
def test_a_full_disk_is_noticed_in_whatever_is_printed(
    small: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    """In a table, and in texts short and long."""
    monkeypatch.chdir(small)
    assert here(*command.split(), to=os.open("/dev/full", os.O_WRONLY)) == (2, FULL)


@POSIX
def test_a_file_over_the_allowed_size_is_one_line_and_exit_2(small: Path) -> None:
    """`ulimit -f`: on standard output, and in a file, of which nothing is left."""
    import resource

    def limited() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (64, 64))

    with (small / "printed.txt").open("wb") as stream:
        process = started("schema", stdout=stream, preexec_fn=limited)
        _, err = process.communicate()
    assert (process.returncode, err.decode().count("\n")) == (2, 1)
    assert "File too large" in err.decode()
    before = sorted(small.iterdir())
    process = started("new", "--from", "beds.csv", "--out", "draft.yaml", cwd=small, preexec_fn=limited)
    _, err = process.communicate()
    assert process.returncode == 2
    assert "draft.yaml: it cannot be written (File too large)" in err.decode()
    assert sorted(small.iterdir()) == before


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_letters_that_an_output_does_not_know_are_written_out(polish: Path, encoding: str) -> None:
    """A table is printed; a JSON document is the same document; the dash for nothing is a plain one."""
    command = ("score", polish / "beds.yaml", polish / "beds.csv")
    code, out, err = printed_here(polish, *command, encoding=encoding)
    assert (code, err) == (0, "")
    shown = {"ascii": r"Za\u017c\xf3\u0142\u0107-01", "cp1252": r"Za\u017có\u0142\u0107-01", "utf-8": "Zażółć-01"}
    assert shown[encoding] in out.decode(encoding)
    if encoding == "ascii":
        assert printed(*command, encoding=encoding) == (code, out, err)
    code, out, _ = printed_here(polish, *command, "--json", encoding=encoding)
    assert code == 0
    assert json.loads(out.decode(encoding))["products"][0]["id"] == "Zażółć-01"


def test_a_formula_is_printed_to_the_letter_or_refused(polish: Path) -> None:
    """A written-out letter in a YAML file would be another text."""
    (polish / "łóżka.csv").write_text("product,Hałas (dB)\nA,30\nB,32\nC,40\n", encoding="utf-8")
    command = ("new", "--from", polish / "łóżka.csv", "--name", "beds")
    code, out, err = printed_here(polish, *command, encoding="ascii")
    assert (code, out) == (2, b"")
    assert "which ascii does not know; expected an output that takes UTF-8. Write it to a file with --out" in err
    code, out, _ = printed_here(polish, *command, encoding="utf-8")
    assert (code, "Hałas (dB)" in out.decode()) == (0, True)


#: The command, interrupted at a step of its own: its n-th import (of the command's first library on), or its n-th file
#: or folder that is made, linked or renamed.
INTERRUPTED = """
import os, signal, sys
kind, step = sys.argv.pop(1), int(sys.argv.pop(1))
count = begun = 0
def hook(event, arguments):
    global count, begun
    begun = begun or (event == "import" and arguments[0] == "typer")
    made = event in ("os.mkdir", "os.link", "os.rename") or (event == "open" and "steelyard-part" in str(arguments[0]))
    if begun and (event == "import" if kind == "import" else made):
        count += 1
        if count == step:
            os.kill(os.getpid(), signal.SIGINT)
sys.addaudithook(hook)
from analysis.cli.start import main
main()
"""


@POSIX
@pytest.mark.parametrize(
    ("kind", "step"),
    [
        *(("import", step) for step in some((1, 20, 150, 500, 900, 1400), 3)),
        *(("made", step) for step in some((1, 2, 3, 5, 7, 9), 3)),
    ],
)
def test_an_interrupt_is_exit_130_and_leaves_nothing(small: Path, kind: str, step: int) -> None:
    """While the command imports, and while it writes a folder; not a word, no file half-written."""
    before = sorted(small.iterdir())
    arguments = ["weights", small / "beds.yaml", small / "beds.csv", "--out", small / "out"]
    command = [sys.executable, "-c", INTERRUPTED, kind, str(step), *map(str, arguments)]
    done = subprocess.run(command, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (130, b"")
    assert sorted(path for path in small.iterdir() if path.name != "out") == before
    assert not (small / "out").exists() or (small / "out" / "weights.csv").exists()


def test_a_long_table_says_where_the_rest_is(steelyard: Any, small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The first rows, how many more, and what writes them; `--json` and files hold all."""
    monkeypatch.setattr(terminal, "MOST_ROWS", 2)
    for more in ([], ["--score", "reading"], ["--ratings"]):
        result = steelyard("score", small / "beds.yaml", small / "beds.csv", *more)
        assert result.exit_code == 0
        assert "... and 1 more rows: `--out scores.csv` (or .parquet, .json) writes all." in result.stdout
    shown = steelyard("score", small / "beds.yaml", small / "beds.csv", "--json").stdout
    assert len(json.loads(shown)["products"]) == 3


@pytest.mark.parametrize("ascii_only", [False, True])
@pytest.mark.parametrize("items", [[], [1], [{"é": [1, {"b": None}], "t": "a\nb"}, [], {}]])
def test_a_document_in_pieces_is_the_same_text(items: list[Any], ascii_only: bool) -> None:
    """As `json` prints it whole, with an iterator in the middle, at the end, or none."""
    for document in ({"a": {"é": 1}, "items": items, "z": []}, {"items": items}, {"a": 1}, {}, [1, {"a": 2}], items):
        whole = json.dumps(document, indent=1, ensure_ascii=ascii_only) + "\n"
        given = document | {"items": iter(items)} if isinstance(document, dict) and "items" in document else document
        assert "".join(json_pieces(given, ascii_only=ascii_only)) == whole
