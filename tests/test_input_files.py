"""Only regular files are read: a pipe, a device or a folder is refused, and nothing waits for one or fills the memory."""

from __future__ import annotations

import os
import socket
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from typer.testing import CliRunner

from analysis.cli.main import app
from scoring.texts.input_files import TooLarge, file_bytes

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pipes of the file system")
FORMULA = """\
formula: t
scale: {from: 1, to: 10}
measures: {noise: {unit: dB}}
ratings: {quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}}
"""
READINGS = "product,noise\nA,30\nB,31\nC,40\n"


@contextmanager
def fed(pipe: Path) -> Iterator[None]:
    """A pipe that ends for whoever opens it, so that a test of code which opens it fails, and does not wait for ever."""
    done = threading.Event()

    def feed() -> None:
        while not done.is_set():
            try:
                os.close(os.open(pipe, os.O_WRONLY | os.O_NONBLOCK))
            except OSError:  # nobody reads it
                time.sleep(0.01)

    feeder = threading.Thread(target=feed)
    feeder.start()
    try:
        yield
    finally:
        done.set()
        feeder.join()


def written(folder: Path) -> Path:
    """A folder with a formula, readings, and a pipe by every name that a test may want."""
    (folder / "beds.yaml").write_text(FORMULA, encoding="utf-8")
    (folder / "takes.yaml").write_text("formula: u\ntakes: {file: pipe.yaml}\n", encoding="utf-8")
    (folder / "beds.csv").write_text(READINGS, encoding="utf-8")
    for name in ("listed", "read"):
        (folder / name).mkdir()
    (folder / "listed" / "readings.csv").write_text(READINGS, encoding="utf-8")
    for name in ("pipe.yaml", "pipe.csv", "pipe.json", "listed/items.csv", "read/readings.csv"):
        os.mkfifo(folder / name)
    return folder


@pytest.mark.parametrize(
    ("command", "pipe"),
    [
        (["check", "pipe.yaml"], "pipe.yaml"),
        (["check", "takes.yaml"], "pipe.yaml"),
        (["score", "beds.yaml", "pipe.csv"], "pipe.csv"),
        (["score", "beds.yaml", "listed"], "listed/items.csv"),
        (["score", "beds.yaml", "read"], "read/readings.csv"),
        (["new", "--from", "pipe.csv"], "pipe.csv"),
        (["sensitivity", "beds.yaml", "beds.csv", "--study", "pipe.yaml"], "pipe.yaml"),
        (["compare", "beds.yaml", "beds.yaml", "beds.csv", "--bridge", "noise=pipe.csv"], "pipe.csv"),
        (["verify", "pipe.json"], "pipe.json"),
    ],
    ids=["formula", "takes", "catalogue", "items", "readings", "draft", "study", "bridge", "record"],
)
def test_a_pipe_is_refused_wherever_a_file_is_read(
    command: list[str], pipe: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In one line, and nothing is done."""
    monkeypatch.chdir(written(tmp_path))
    with fed(tmp_path / pipe):
        result = CliRunner().invoke(app, command)
    assert result.exit_code == 2, result.output
    told, closing = result.stderr.splitlines()
    assert told.startswith(f"{pipe}: ")
    assert "a pipe, where a file belongs" in told
    assert closing == "1 problem; nothing was done."


@pytest.mark.parametrize("kind", ["a device", "a folder", "a socket"])
def test_what_is_no_file_is_told_by_its_kind(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Through a link too; nothing of it is read."""
    monkeypatch.chdir(tmp_path)
    with socket.socket(socket.AF_UNIX) as bound:
        bound.bind("socket")
        target = {"a device": "/dev/zero", "a folder": ".", "a socket": "socket"}[kind]
        Path("link").symlink_to(target)
        with pytest.raises(OSError, match=f"{kind}, where a file belongs"):
            file_bytes(Path("link"), 10)


def test_no_more_is_read_than_the_limit(tmp_path: Path) -> None:
    """So many bytes are read, and one more is too many."""
    path = tmp_path / "ten"
    path.write_bytes(b"0123456789")
    assert file_bytes(path, 10) == b"0123456789"
    with pytest.raises(TooLarge, match="10 bytes, and at most 9 are read") as caught:
        file_bytes(path, 9)
    assert caught.value.size == 10


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no file here that says no length")
def test_a_file_that_says_no_length_is_read_and_held_to_the_limit() -> None:
    """Those of /proc say that they are empty."""
    assert file_bytes(Path("/proc/self/status"), 100_000).startswith(b"Name:")
    with pytest.raises(TooLarge, match="6 bytes, and at most 5 are read"):
        file_bytes(Path("/proc/self/status"), 5)
