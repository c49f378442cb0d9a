"""The page in Markdown works on its own, and shows every text of a file letter for letter."""

from __future__ import annotations

import re

import pytest
from appendix.trial import LABELS, MARKUP
from markdown_it import MarkdownIt
from markdown_it.token import Token

from analysis.languages.facts import Facts, every_section, figures_of
from analysis.languages.markdown import cell_code, code, formula, text
from scoring.symbolic.notation import Fraction, Name, Relation, Sum

ANCHOR = re.compile(r'<a id="[A-Za-z0-9_-]+">|</a>')


def tokens(source: str) -> list[Token]:
    """Every inline token of a page without its formulas."""
    bare = re.sub(r"(?ms)^\$\$$.*?^\$\$$", "", source)
    found = MarkdownIt("commonmark").enable("table").parse(bare)
    return [child for token in found for child in (token.children or [token])]


def shown(source: str) -> str:
    """The text that a reader of Markdown sees."""
    return "".join(token.content for token in tokens(source) if token.type in ("text", "code_inline", "text_special"))


@pytest.mark.parametrize(
    "label", [*LABELS, "1. first", "- a", "a\\", "``", "$$x$$", "&amp; &lt;", "a_b_c", "^1^", "www.invented.invalid"]
)
def test_any_text_is_shown_letter_for_letter(label: str) -> None:
    """In a paragraph and in a cell."""
    assert shown(f"x {text(label)} y") == f"x {' '.join(label.split())} y"
    table = shown(f"| a |\n| --- |\n| x {text(label)} y |\n")
    assert table == f"ax {' '.join(label.split())} y"


@pytest.mark.parametrize("label", ["a`b", "``", "a|b", "`"])
def test_any_code_is_shown_letter_for_letter(label: str) -> None:
    """Whatever backticks and bars it holds."""
    assert shown(code(label)) == label
    assert shown(f"| a |\n| --- |\n| {cell_code(label)} |\n") == f"a{label}"


def test_nothing_in_a_file_becomes_markup(markdown: str) -> None:
    """The only HTML is our own anchors, the only links lead into the page, the only images are its pictures."""
    found = tokens(markdown)
    html = [token.content for token in found if token.type in ("html_inline", "html_block")]
    assert html
    assert all(ANCHOR.fullmatch(one.strip()) or ANCHOR.sub("", one).strip() == "" for one in html)
    assert all(str(t.attrs["href"]).startswith("#") for t in found if t.type == "link_open")
    assert MARKUP in shown(markdown)


def test_every_section_and_picture_is_there(markdown: str, facts: Facts) -> None:
    """Anchors, links to them, and picture files that are written beside the page."""
    anchors = set(re.findall(r'<a id="([^"]+)">', markdown))
    assert anchors == {section.anchor for section in every_section(facts.sections)}
    assert set(re.findall(r"\]\(#([^)]+)\)", markdown)) <= anchors
    images = [str(token.attrs["src"]) for token in tokens(markdown) if token.type == "image"]
    assert images == [f"{figure.name}.svg" for figure in figures_of(facts)]


def test_formulas_are_in_latex(markdown: str) -> None:
    """Each formula stands between two lines of `$$`, with LaTeX in between."""
    blocks = re.findall(r"(?ms)^\$\$\n(.*?)\n\$\$$", markdown)
    assert len(blocks) >= 8
    assert all("=" in block for block in blocks)
    assert any("\\frac" in block for block in blocks)


def test_rows_have_as_many_cells_as_their_heads(markdown: str) -> None:
    """No bar in a label splits a cell."""
    widths: list[int] = []
    for line in markdown.splitlines():
        if line.startswith("|"):
            widths.append(len(re.split(r"(?<!\\)\|", line)))
        else:
            assert len(set(widths)) <= 1, line
            widths = []


HOSTILE_LABELS = (
    "*star*",
    "**a** b",
    "[x](y)",
    "![x](y)",
    "[x]",
    "_a_ __b__",
    "`a`",
    "``",
    "<b>a</b>",
    "<script>",
    "&amp;",
    "~~a~~",
    "|a|",
    "http://x.y",
    "www.x.y",
    "a@b.c",
    "$$",
    "1. a",
    "# a",
    "- a",
)


@pytest.mark.parametrize("label", HOSTILE_LABELS)
def test_a_label_in_a_formula_means_nothing_to_a_reader_without_formulas(label: str) -> None:
    """What stands between `$$` is plain text where `$$` is not known: no emphasis, link, code, HTML or bare address."""
    for shape in (Name(label), Sum((Name(label), Name(label))), Fraction(Name(label), Name("b"))):
        source = formula(Relation((shape, Name(label)), ("=",)))
        for block in (source, f"$$\n{source}\n$$"):
            parsed = MarkdownIt("commonmark").enable(["table", "strikethrough"]).parse(block)
            kinds = {child.type for token in parsed for child in (token.children or [token])}
            assert kinds <= {"paragraph_open", "paragraph_close", "text", "text_special", "softbreak"}, block
        assert not re.search(r"https?:|www\.", source)


def test_a_formula_keeps_its_skips_and_shows_its_stars() -> None:
    """A skip between lines is TeX's, a star or bracket is the label's."""
    parts = tuple(Name(f"{'long ' * 12}{n}") for n in range(6))
    assert r"\\[2pt]" in formula(Sum(parts))
    assert formula(Name("a*b [c](www.x)")) == r"\text{a$\ast$b $\lbrack$c$\rbrack$(www{}.x)}"


def test_formulas_are_in_the_page_as_they_are_printed(markdown: str) -> None:
    """The page goes through that printer: a skip is there, and no star outside a command."""
    blocks = re.findall(r"(?ms)^\$\$$(.*?)^\$\$$", markdown)
    assert any(r"\\[8pt]" in block for block in blocks)
    assert not any("*" in block for block in blocks)
