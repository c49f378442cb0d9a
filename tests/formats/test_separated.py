"""Text files with a separator: any, in any encoding, and never a guessed one."""

from __future__ import annotations

from pathlib import Path

import pytest
from catalogues import BED, read_text

from scoring.catalogue.formats.formats import read_grids
from scoring.catalogue.formats.grid import Options, TableFile
from scoring.errors import CatalogueError, Problem

TABLE = (["product", "noise", "class"], ["A", "30,5", "größer"], ["B", "x|y", ""])


def rows_of(content: bytes, name: str = "bench.csv", **options: str) -> tuple[list[list[object]], list[str]]:
    """The cells of a text file, and what is said of it."""
    problems: list[Problem] = []
    grids = read_grids(TableFile(name, content, Options(**options)), problems)  # type: ignore[arg-type]
    rows = [list(cells) for grid in grids for _, cells in grid.rows(problems)]
    return rows, [str(problem) for problem in problems]


def text(separator: str) -> str:
    return "".join(separator.join(f'"{cell}"' for cell in cells) + "\r\n" for cells in TABLE)


@pytest.mark.parametrize("separator", [";", "\t", "|", ",", ":", "§", " "])
def test_any_character_may_stand_between_cells(separator: str) -> None:
    """A tab also by its name; the ending of the file does not matter where a separator is said."""
    for name in ("bench.csv", "bench.tsv"):
        assert rows_of(text(separator).encode(), name, separator=separator) == (list(TABLE), [])
    assert rows_of(text("\t").encode(), separator="tab") == (list(TABLE), [])


@pytest.mark.parametrize("separator", [";;", '"', "\n", "\r", "\0", "tabs"])
def test_a_separator_that_cannot_be_one_is_a_fault(separator: str) -> None:
    """With what can."""
    _, (told,) = rows_of(text(",").encode(), separator=separator)
    assert told.endswith("expected one character, as `;`, or `tab`, and no double quote.")


@pytest.mark.parametrize(
    ("name", "written", "says"),
    [
        ("bench.csv", ";", 'bench.csv:1: cells with semicolons between them; expected commas between cells. A recipe reads the file as it is: `separator: ";"`, with `decimal: comma` where its numbers have one.'),
        ("bench.csv", "\t", 'bench.csv:1: cells with tabs between them; expected commas between cells. A recipe reads the file as it is: `separator: "tab"`.'),
        ("bench.tsv", ",", 'bench.tsv:1: cells with commas between them; expected tabs between cells. A recipe reads the file as it is: `separator: ","`.'),
        ("bench.tsv", ";", 'bench.tsv:1: cells with semicolons between them; expected tabs between cells. A recipe reads the file as it is: `separator: ";"`, with `decimal: comma` where its numbers have one.'),
    ],
)  # fmt: skip
def test_another_separator_is_named_with_the_line_of_a_recipe(name: str, written: str, says: str) -> None:
    """It is not guessed; the line that stands in the fault reads the file."""
    content = f"product{written}noise\nA{written}30\n".encode()
    assert rows_of(content, name) == ([], [says])
    line = says.split('separator: "')[1].split('"')[0]
    assert rows_of(content, name, separator=line) == ([["product", "noise"], ["A", "30"]], [])


@pytest.mark.parametrize(
    "encoding", ["utf-8", "UTF8", "utf-8-sig", "utf-16", "utf-16-le", "utf-32", "windows-1252", "iso-8859-15", "cp850", "mac-roman", "cp037"]
)  # fmt: skip
def test_any_encoding_that_python_knows_can_be_asked_for(encoding: str) -> None:
    """Marks before the text are none of it."""
    assert rows_of(text(",").encode(encoding), encoding=encoding) == (list(TABLE), [])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_what_begins_with_its_mark_needs_no_word(encoding: str) -> None:
    """UTF-8 with a mark or none, UTF-16 with one."""
    assert rows_of(text(",").encode(encoding)) == (list(TABLE), [])


@pytest.mark.parametrize(
    "encoding", ["klingon", "hex", "zip", "rot13", "undefined", "idna", "punycode", "unicode_escape", "a\0b", "ä"]
)
def test_an_encoding_that_is_none_of_letters_is_a_fault(encoding: str) -> None:
    """Some words that Python calls encodings would run through a file for ever, or make letters of anything."""
    _, (told,) = rows_of(b"product,noise\n", encoding=encoding)
    assert "expected one that Python knows, as `utf-8`" in told


@pytest.mark.parametrize(
    ("content", "options", "says"),
    [
        (b"a,b\n1,2\nx,\xe9\n", {}, "bench.csv:3: the byte 0xe9, which is not UTF-8; expected text in UTF-8. A recipe says in which encoding"),
        (b"a,b\n1,2\nx,\xe9\n", {"encoding": "utf-8"}, "bench.csv:3: the byte 0xe9, which is not UTF-8"),
        (b"a,b\n\x81,2\n", {"encoding": "windows-1252"}, "bench.csv:2: the byte 0x81, which is not cp1252"),
        ("a,b\n1,2\nx,".encode("utf-16-le") + b"\x00\xdc", {"encoding": "utf-16-le"}, "bench.csv:3: the byte 0x00, which is not utf-16-le"),
        ("a,b\n1,2\n".encode("utf-16") + b"x", {}, "bench.csv:3: the byte 0x78, which is not utf-16"),
        ("a,b\n1,2\n".encode("utf-16-le"), {}, "text in UTF-16 without its mark; expected text in UTF-8. A recipe says in which: `encoding: utf-16-le`."),
        ("a,b\n1,2\n".encode("utf-16-be"), {}, "`encoding: utf-16-be`."),
    ],
)  # fmt: skip
def test_a_wrong_encoding_names_the_line_of_the_first_bad_byte(
    content: bytes, options: dict[str, str], says: str
) -> None:
    """Lines are those of the text, in any encoding."""
    rows, (told,) = rows_of(content, **options)
    assert (rows, says in told) == ([], True)


def test_a_row_that_falls_apart_names_the_separator(tmp_path: Path) -> None:
    """An open quote, in a file of tabs."""
    with pytest.raises(
        CatalogueError, match=r"expected cells with tabs between them\. A cell with a tab or a double quote"
    ):
        read_text(tmp_path, 'product\tnoise\nA\t"30\n', BED, "bench.tsv")


def test_semicolons_under_a_title_with_commas_are_told_once() -> None:
    """Decimal commas make rows of every length; what is wrong is the separator, whether a recipe states one or not."""
    rows = "".join(f"A-{n};{30 + n},5;{'7,1' if n % 3 else '7'}\n" for n in range(6))
    content = f"Invented bench, spring, 2026;;\n;;\nid;noise_dba;rise\n{rows}".encode()
    says = "cells with semicolons between them"
    for separator in ("", ","):
        problems: list[Problem] = []
        assert not read_grids(TableFile("bench.csv", content, Options(separator)), problems)
        assert [one.found for one in problems] == [says]
        assert '`separator: ";"`' in problems[0].hint
    problems = []
    assert len(read_grids(TableFile("bench.csv", content, Options(";")), problems)) == 1
    assert not problems


def test_semicolons_in_the_words_of_a_column_are_no_separator() -> None:
    """Rows of other lengths above the header do not make them one."""
    rows = "".join(f"A-{n},{30 + n},7,see; mail\n" for n in range(6))
    problems: list[Problem] = []
    assert len(read_grids(TableFile("bench.csv", f"Bench\nSpring; 2026,\nid,a,b,n;m\n{rows}".encode()), problems)) == 1
    assert not problems
