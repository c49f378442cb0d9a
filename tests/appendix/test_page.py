"""The page in HTML: its structure, what a reader without eyes or mouse gets, and that nothing in a file can steer it."""

from __future__ import annotations

import base64
import hashlib
import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest
from appendix.trial import LABELS, MARKUP

from analysis.languages.facts import Facts, Section, Table, every_section, figures_of, plain_text
from analysis.languages.rendering import stylesheet
from analysis.templates import MOST_SVG

VOID = {"meta", "img", "br", "hr", "link", "input"}
Attributes = dict[str, str]


class Page(HTMLParser):
    """Every element in order, with its attributes, its text, and what it stands in; tags must nest."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[tuple[str, int]] = []
        self.elements: list[tuple[str, Attributes, list[str], tuple[str, ...]]] = []
        self.chunks: list[tuple[str, tuple[str, ...]]] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {k: v or "" for k, v in attrs}, [], tuple(t for t, _ in self.open)))
        if tag not in VOID:
            self.open.append((tag, len(self.elements) - 1))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop()[0] == tag

    def handle_data(self, data: str) -> None:
        self.chunks.append((data, tuple(tag for tag, _ in self.open)))
        for _, index in self.open:
            self.elements[index][2].append(data)

    def all(self, *tags: str) -> list[tuple[str, Attributes, str]]:
        """Elements of these kinds, with their text."""
        return [(tag, attributes, "".join(text)) for tag, attributes, text, _ in self.elements if tag in tags]


@pytest.fixture(scope="module")
def parsed(page: str) -> Page:
    """The page, parsed."""
    return Page(page)


def test_headings_are_in_order(parsed: Page, facts: Facts) -> None:
    """One h1; no level is skipped; every section of the facts has its heading, in reading order."""
    levels = [int(tag[1]) for tag, _, _ in parsed.all("h1", "h2", "h3", "h4")]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    ids = [a["id"] for _, a, _ in parsed.all("h2", "h3", "h4") if a["id"] != "contents"]
    assert ids == [section.anchor for section in every_section(facts.sections)]


def test_every_link_leads_somewhere(parsed: Page, facts: Facts) -> None:
    """Ids stand once; every link goes to one of them; the contents name every section."""
    ids = [a["id"] for _, a, _, _ in parsed.elements if "id" in a]
    assert len(ids) == len(set(ids))
    targets = [a["href"] for _, a, _ in parsed.all("a")]
    assert all(target.startswith("#") and target[1:] in ids for target in targets)
    in_contents = ["".join(t) for tag, _, t, inside in parsed.elements if tag == "a" and "nav" in inside]
    assert len(in_contents) == len(list(every_section(facts.sections)))


def test_pictures_say_what_they_show(parsed: Page, facts: Facts) -> None:
    """Each alt text is the finding of its picture, and each picture has a caption and stands in the page."""
    pictures = parsed.all("img")
    assert [a["alt"] for _, a, _ in pictures] == [" ".join(f.finding.split()) for f in figures_of(facts)]
    assert all(len(a["alt"]) > 20 for _, a, _ in pictures)
    for (_, a, _), figure in zip(pictures, figures_of(facts), strict=True):
        kind = "png" if len(figure.svg) > MOST_SVG else "svg+xml"  # a long one as PNG, which opens quickly
        assert a["src"].startswith(f"data:image/{kind};base64,")
    assert len(parsed.all("figcaption")) == len(pictures)


def test_tables_can_be_read_aloud(parsed: Page) -> None:
    """Each table has a caption with words; each header cell says what it heads; each row has one."""
    tables = parsed.all("table")
    captions = parsed.all("caption")
    assert len(tables) == len(captions) > 10
    assert all(text.strip() for _, _, text in captions)
    assert {a.get("scope") for _, a, _ in parsed.all("th")} == {"row", "col"}
    rows = [inside for tag, _, _, inside in parsed.elements if tag == "tr" and "tbody" in inside]
    assert len(rows) == sum(a.get("scope") == "row" for _, a, _ in parsed.all("th"))


def test_what_scrolls_can_be_reached_and_has_a_name(parsed: Page) -> None:
    """Wide tables and formulas scroll in regions that take the keyboard's focus."""
    ids = {a["id"] for _, a, _, _ in parsed.elements if "id" in a}
    regions = [a for _, a, _ in parsed.all("div") if "scroll" in a.get("class", "").split()]
    assert len(regions) > 20
    for region in regions:
        assert (region["role"], region["tabindex"]) == ("region", "0")
        assert region.get("aria-labelledby") in ids or region.get("aria-label", "").strip()


def test_the_page_needs_nothing_and_lets_nothing_in(page: str, parsed: Page) -> None:
    """No script, no style attribute, no address outside; the policy names the hash of the one style sheet."""
    assert page.startswith('<!DOCTYPE html>\n<html lang="en">')
    assert parsed.all("script", "link", "iframe", "object", "form", "base") == []
    for _, attributes, _, _ in parsed.elements:
        assert "style" not in attributes
        assert not any(key.startswith("on") for key in attributes)
        assert all(a.startswith(("#", "data:")) for key, a in attributes.items() if key in ("src", "href"))
    (policy,) = [a["content"] for _, a, _ in parsed.all("meta") if a.get("http-equiv") == "Content-Security-Policy"]
    (style,) = [text for _, _, text in parsed.all("style")]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"style-src 'sha256-{digest}'" in policy
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "url(" not in style


def test_labels_are_shown_as_text(page: str, parsed: Page) -> None:
    """Markup, templates and signs of other languages come out letter for letter."""
    (body,) = [text for _, _, text in parsed.all("body")]
    for label in LABELS:
        assert label in body
    assert "49" not in re.findall(r"Trial .{0,60}", body)[0]
    assert "<script" not in page
    assert MARKUP in parsed.all("title")[0][2]


def test_text_that_turns_the_direction_is_set_apart(parsed: Page) -> None:
    """A label with marks of direction stands inside `bdi` (or a title, alt text or formula, which isolate it)."""
    turned = [inside for data, inside in parsed.chunks if "\u202e" in data]
    assert len(turned) > 10
    outside = [inside for inside in turned if not {"bdi", "math", "title"} & set(inside)]
    assert outside == []


def test_a_page_without_names_of_tables_cannot_be(facts: Facts) -> None:
    """Every named block has a name of its own, and every row as many cells as its table has columns."""
    names = []
    for section in every_section(facts.sections):
        assert isinstance(section, Section)
        for block in section.blocks:
            if hasattr(block, "name"):
                names.append(block.name)
            if isinstance(block, Table):
                assert all(len(row) == len(block.columns) for row in block.rows), block.name
                assert plain_text(block.caption)
    assert len(names) == len(set(names))


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.1, definition of relative luminance; from memory)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_text_stands_out_in_light_and_dark() -> None:
    """Ink, soft ink and links have a contrast of 4.5 and more on paper, in both palettes."""
    palettes = re.findall(r"--ink: (#\w{6}); --soft: (#\w{6}); --paper: (#\w{6}).*?--link: (#\w{6})", stylesheet())
    assert len(palettes) == 2
    assert luminance("#ffffff") == pytest.approx(1)
    for ink, soft, paper, link in palettes:
        for colour in (ink, soft, link):
            light, dark = sorted((luminance(colour), luminance(paper)), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (colour, paper)


def test_print_is_light() -> None:
    """The dark palette is for screens only, and A4 is named."""
    style = stylesheet()
    assert "prefers-color-scheme" not in style.replace("@media screen and (prefers-color-scheme: dark)", "")
    assert "size: A4" in style
    assert "display: table-header-group" in style
