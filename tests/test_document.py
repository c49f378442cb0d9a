"""Documents: scalars stay as written, every node knows its place and span, and what a formula has no use for is refused."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from scoring.errors import FormulaError
from scoring.texts.document import DEEPEST, MOST_PROBLEMS, Mapping, Node, Scalar, read_document, write_scalar
from scoring.texts.file_limits import FORMULA_CHARACTERS


def walk(node: Node) -> Iterator[Node]:
    """A node and all below it."""
    yield node
    if isinstance(node, Mapping):
        for key, value in node.entries:
            yield key
            yield from walk(value)
    elif not isinstance(node, Scalar):
        for item in node.items:
            yield from walk(item)


def only_value(text: str) -> Scalar:
    """The value of the one entry of a mapping."""
    node = read_document(text, "form.yaml")
    assert isinstance(node, Mapping)
    ((_, value),) = node.entries
    assert isinstance(value, Scalar)
    return value


def refusal(text: str) -> list[str]:
    """What is said of a text that is no document of ours."""
    with pytest.raises(FormulaError, match=r"form\.yaml") as caught:
        read_document(text, "form.yaml")
    return [str(problem) for problem in caught.value.problems]


@pytest.mark.parametrize(
    "word",
    ["no", "off", "yes", "true", "null", "~", "1_000", "12:30", "12:30:45", "010", "0o10", "0x1F", "1e3", ".5", "NaN"],
)
def test_a_bare_word_stays_the_text_that_was_written(word: str) -> None:
    """YAML would make a switch, a thousand, a time of day or an octal of these."""
    value = only_value(f"key: {word}\n")
    assert (value.text, value.quoted) == (word, False)


@pytest.mark.parametrize(
    ("written", "text"),
    [
        ('"5"', "5"),
        ("'5'", "5"),
        ('"a \\"b\\""', 'a "b"'),
        ("'it''s'", "it's"),
        ("|\n  a\n  b\n", "a\nb\n"),
        (">-\n  a\n  b\n", "a b"),
    ],
    ids=["double", "single", "escaped", "doubled", "block", "folded"],
)
def test_quoted_and_block_texts_are_told_from_bare_ones(written: str, text: str) -> None:
    """A quoted figure is not a number."""
    value = only_value(f"key: {written}\n")
    assert (value.text, value.quoted) == (text, True)


LAYOUTS = {
    "unix": "a: 1  # one\nb:\n  c: 2\n  d: {e: 3,\n      f: [4, 5]}\n# done\n",
    "dos": "a: 1  # one\r\nb:\r\n  c: 2\r\n  d: {e: 3,\r\n      f: [4, 5]}\r\n# done\r\n",
    "marked": "\ufeffa: 1\nb:\n  c: 2\n  d: {e: 3,\n      f: [4, 5]}\n",
    "old mac": "a: 1\rb:\r  c: 2\r  d: {e: 3,\r      f: [4, 5]}\r",
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_line_column_and_span_are_those_of_the_text_whatever_its_line_ends(layout: str) -> None:
    """Counted from 1; the byte order mark takes no column and shifts no span."""
    text = LAYOUTS[layout]
    found = {
        node.text: (node.place.line, node.place.column, text[node.start : node.end])
        for node in walk(read_document(text, "form.yaml"))
        if isinstance(node, Scalar)
    }
    assert found["a"][:2] == (1, 1)
    assert found["2"] == (3, 6, "2")
    assert found["3"] == (4, 10, "3")
    assert found["5"] == (5, 14, "5")


def test_a_block_ends_with_its_last_value_and_not_with_the_comments_after_it() -> None:
    """What replaces a block must swallow neither the comment nor the indentation of what follows."""
    text = "a:\n  b: 1  # b\n\n# about c\nc: |\n  two\n  lines\n\n\nd: 4\n"
    node = read_document(text, "form.yaml")
    assert isinstance(node, Mapping)
    spans = [text[value.start : value.end] for _, value in node.entries]
    assert spans == ["b: 1", "|\n  two\n  lines", "4"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("a: 1\nb: 2\na: 3\n", r"form.yaml:3:1: the key `a` again (first in line 1); expected each key once. Drop one of the two."),
        ("a: {b: 1, b: 2}\n", r"form.yaml:1:11: the key `b` again (first in line 1); expected each key once. Drop one of the two."),
        ("a: &top 1\n", "form.yaml:1:4: the anchor &top; expected no anchors. Write the value where it is used."),
        ("a: *top\n", "form.yaml:1:4: the alias *top; expected no aliases. Write the value out, or set the text in quotes."),
        ("<<: {a: 1}\n", "form.yaml:1:1: the merge key <<; expected no merging. Write the keys out."),
        ("a: !!int 1\n", "form.yaml:1:4: the tag tag:yaml.org,2002:int; expected no tags. Write the value plainly."),
        ("a: !mine {b: 1}\n", "form.yaml:1:4: the tag !mine; expected no tags. Write the value plainly."),
        ("? [1, 2]\n: 3\n", "form.yaml:1:3: a list or mapping as a key; expected a word or number as a key."),
        ("a: 1\n---\nb: 2\n", "form.yaml:2:1: a second document; expected one document a file. Split the file."),
        ("", "form.yaml:1:1: an empty file; expected a formula. Start with `formula: NAME`."),
        ("# nothing\n", "form.yaml:1:1: an empty file; expected a formula. Start with `formula: NAME`."),
        ('a: "\\e[31m"\n', "form.yaml:1:4: the character U+001B in a text; expected printable characters. Leave it out."),
        ('a: "\\uD800"\n', "form.yaml:1:4: the character U+D800 in a text; expected printable characters. Leave it out."),
        ('a: "\\0"\n', "form.yaml:1:4: the character U+0000 in a text; expected printable characters. Leave it out."),
    ],
    ids=["repeated", "repeated in braces", "anchor", "alias", "merge", "tag", "own tag", "key", "two", "empty", "comment", "escape",
         "surrogate", "nul"],
)  # fmt: skip
def test_what_a_formula_has_no_use_for_is_refused_with_its_place(text: str, says: str) -> None:
    """Each of these hides a meaning, or lets one fact stand in two places."""
    assert refusal(text) == [says]


@pytest.mark.parametrize("text", ["a:\t1\n", "a:\n\tb: 1\n", "\ta: 1\n"], ids=["between", "indent", "first"])
def test_a_tab_that_yaml_refuses_is_named(text: str) -> None:
    """The commonest slip in an editor that indents with tabs."""
    assert refusal(text)[0].endswith("Indent and separate with spaces, not tabs.")


@pytest.mark.parametrize(
    ("text", "says"),
    [("a: [1, 2\n", "1:4: `[` that is not closed; expected a `]`"),
     ("a: {b: 1\n", "1:4: `{` that is not closed; expected a `}`"),
     ('a: "b\n', '1:4: a quote " that is never closed; expected a "'),
     ("a: b: c\n", "1:5: a second `: ` in one line; expected one `key: value`"),
     ("a: 1\n b: 2\n", "2:2: an indent that does not fit: column 2, below a line that begins in column 1"),
     ("{a: 1}}\n", "1:7: not YAML: ")],
    ids=["list", "braces", "quotes", "colon", "indent", "brace"],
)  # fmt: skip
def test_a_text_that_is_not_yaml_is_refused_at_its_line_and_column(text: str, says: str) -> None:
    """Half-closed brackets and the like."""
    assert refusal(text)[0].startswith(f"form.yaml:{says}")


def test_a_character_beyond_the_last_code_point_is_refused() -> None:
    """Whatever the parser makes of it."""
    assert "not YAML: " in refusal('a: "\\UFFFFFFFF"\n')[0]


def test_control_characters_are_refused_at_their_line_and_column() -> None:
    """Each by itself, in a text, a quoted text or a comment; a line end, a tab and letters of any script are none."""
    assert refusal('a: \x00\nb: "x\x1by" # \x07\nc: żó\ud800\n') == [
        f"form.yaml:{place}: the control character U+{code}; expected characters that show. Delete it; it came with a pasted text."
        for place, code in (("1:4", "0000"), ("2:6", "001B"), ("2:12", "0007"), ("3:6", "D800"))
    ]
    assert isinstance(read_document('a: "é\u2028\tx"\r\nb: 2 # \U0001f6cf\n', "form.yaml"), Mapping)


@pytest.mark.parametrize("opening", ["[", "{a: ", "- ", "? "], ids=["list", "braces", "dashes", "keys"])
def test_nesting_stops_at_its_limit(opening: str) -> None:
    """A hostile text cannot exhaust the stack."""
    assert refusal(opening * 5000)[0].endswith(f"nesting deeper than {DEEPEST}; expected at most {DEEPEST} levels.")


def test_an_alias_bomb_is_refused_before_it_goes_off() -> None:
    """Nine levels of nine aliases would be 387 million words."""
    bomb = "a: &a [w, w, w, w, w, w, w, w, w]\n" + "".join(
        f"{b}: &{b} [{', '.join([f'*{a}'] * 9)}]\n" for a, b in zip("abcdefgh", "bcdefghi", strict=True)
    )
    assert any("the alias *a; expected no aliases" in said for said in refusal(bomb))


def test_a_text_of_too_many_characters_is_refused_unread() -> None:
    """The limit is named."""
    assert refusal("a" * (FORMULA_CHARACTERS + 1)) == [
        f"form.yaml: {FORMULA_CHARACTERS + 1} characters; expected at most {FORMULA_CHARACTERS}."
    ]


def test_reading_stops_at_very_many_faults() -> None:
    """Nobody reads a list of thousands."""
    assert len(refusal("- &a 1\n" * 3000)) == MOST_PROBLEMS
    assert len(refusal("a: 1\n" * 3000)) == MOST_PROBLEMS


@pytest.mark.parametrize(
    "text",
    ["0.5", "weighted mean", "5%", "a < 3", "-1", "- 1", "-", "a: b", "a #b", "#", "", " a", "a ", '"', "'", "\\", "a\nb", "a\tb", "{", "[1]",
     "*a", "&a", "!a", "%a", "@a", "`a`", "|", ">", "? a", "no", "é", 'fire == "none"', "a, b", "a}", "<<", "..."],
)  # fmt: skip
@pytest.mark.parametrize(
    "place", ["key: {}\n", "{{key: {}, other: 1}}\n", "- key: {}\n  other: 1\n"], ids=["block", "braces", "item"]
)
def test_a_written_scalar_reads_back_as_itself(text: str, place: str) -> None:
    """Bare where it may be, quoted where YAML would read something else; in blocks and in braces."""
    node = read_document(place.format(write_scalar(text, plain=True)), "form.yaml")
    values = [n.text for n in walk(node) if isinstance(n, Scalar)]
    assert values[:2] == ["key", text]


def test_a_written_scalar_is_bare_only_where_that_is_wanted() -> None:
    """A choice stays bare, a text is quoted."""
    assert (write_scalar("weighted mean", plain=True), write_scalar("weighted mean", plain=False)) == (
        "weighted mean",
        '"weighted mean"',
    )
