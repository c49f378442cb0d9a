"""What the printers make of any text: valid in its language, and shown as text."""

from __future__ import annotations

import re
import shutil
import subprocess
import unicodedata
from pathlib import Path
from xml.etree import ElementTree

import pytest
from extent import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from written_forms import form_of

from analysis.languages.latex import latex, latex_text
from analysis.languages.mathml import mathml
from analysis.languages.plain import plain
from analysis.languages.typst import COVERED, typst, typst_string
from analysis.methods_appendix.formulas import FormulaLine, formulas_of
from scoring.program.program import compile_form
from scoring.symbolic.notation import Name, Number, add, divide, lines_of, multiply, negative, power

#: Labels that mean something to one language or another, and letters that not every font has.
HOSTILE = {
    "html": "a < b & c > <b>d</b> &amp; ]]> <!--",
    "tex": r"\textbf{x} \\ \end{document} $100 50% #1 a_b a^b ~ {x} \[1] \input{/etc/passwd}",
    "typst": '#panic("x") $ @a <b> *c* _d_ `e` "f" \\ // g /* h',
    "quotes": "\"a\" 'b' `c` “d” ‘e’ <<f>> ``g''",
    "dashes": "a--b---c – d — e, ff fi ?` !`",
    "emoji": "quiet 😀👩‍👩‍👧",
    "right to left": "שקט \u202eabc مريح",
    "accents": "Größe façade naïve Łódź Ærø œuvre Ἀθῆναι Čeština",
    "signs": "5 °C ± 2 µm² ≤ ½ × 10⁻³ Ω € ™",
    "chinese": "床垫",
    "long": "very long " * 30,
    "controls": "a\tb\nc \u00a0\u200b\u2028 d",
    "number": "1.5",
    "bracket": "[x] (y",
    "word of ours": "otherwise",
}
FORM = """\
formula: t
scale: {{from: 1, to: 10}}
measures:
  x: {{unit: '1', label: {label}}}
  y: {{unit: '1'}}
ratings:
  r: {{label: {label2}, measure: x, curve: {{points: {{2: 10, 4.5: 7, 9: 1}}}}}}
  q: {{measure: x, curve: {{smooth: {{2: 10, 4.5: 7, 9: 1}}}}}}
  t: {{measure: x, curve: {{standing: {{}}}}}}
  v: {{value: 'where(x < 3 and y > 2 or not y >= 1, sqrt(abs(x)) ** 1.5, round(x, 0.5)) + log(x)'}}
scores:
  s: {{blend: geometric mean, weights: {{r: 1, q: 2, t: 0.5, v: 1}}, limits: [{{when: r < 4, at_most: 5}}]}}
"""


def lines_with(label: str) -> list[FormulaLine]:
    """The lines of a form whose measure and rating are called so, however long that is."""
    form = form_of(FORM.format(label="L", label2="M"))
    lines = [line for output in form.outputs for line in formulas_of(compile_form(form), output)]
    return [*lines, FormulaLine("r", Name(label), add(Name(label), power(Name(label), Name(label))), "", "value", "")]


@pytest.mark.parametrize("label", HOSTILE.values(), ids=HOSTILE)
def test_mathml_is_well_formed_and_shows_the_label(label: str) -> None:
    """Read by an XML parser, the text that comes out is the label, white space apart; nothing in it became an element."""
    known = {"math", "mrow", "mi", "mn", "mo", "mtext", "mfrac", "msup", "msqrt", "mtable", "mtr", "mtd", "mstyle"}
    for line in lines_with(label):
        root = ElementTree.fromstring(mathml(line.right))
        assert {element.tag.split("}")[1] for element in root.iter()} <= known
    texts = [element.text for element in root.iter() if element.tag.endswith("mtext")]
    assert {" ".join(text.strip("\u2068\u2069").split()) for text in texts} == {" ".join(label.split())}


@settings(max_examples=examples(200), deadline=None)
@given(st.text(st.characters(), max_size=40))
def test_mathml_of_any_text_is_well_formed(text: str) -> None:
    """Controls, halves of pairs and all."""
    ElementTree.fromstring(mathml(Name(text)))


@settings(max_examples=examples(200), deadline=None)
@given(st.text(st.characters(), max_size=40))
def test_latex_of_any_text_is_plain_ascii_with_its_braces_in_pairs(text: str) -> None:
    """No letter goes unescaped into a language that reads letters as commands."""
    made = latex_text(text)
    assert made.isascii()
    bare = re.sub(r"\\[{}]", "", made)
    depths = [bare[:at].count("{") - bare[:at].count("}") for at in range(len(bare) + 1)]
    assert min(depths) == 0 == depths[-1]
    assert re.sub(r"\\char\d+", "", made).count("$") - made.count(r"\$") == 2 * len(
        re.findall(r"(?<!\\)\$[^$]+\$", made)
    )


@pytest.mark.parametrize("label", HOSTILE.values(), ids=HOSTILE)
def test_typst_compiles_with_any_label(label: str) -> None:
    """With the fonts that it carries, and nothing of the label run."""
    compiler = pytest.importorskip("typst", reason="the typst package is not installed: pip install 'steelyard[pdf]'")
    source = "\n\n".join(f"$ {typst(line.left)} = {typst(line.right)} $" for line in lines_with(label))
    assert compiler.compile(source.encode(), ignore_system_fonts=True)[:5] == b"%PDF-"


@pytest.mark.skipif(shutil.which("pdflatex") is None, reason="no TeX here: apt-get install texlive-latex-base")
def test_latex_compiles_with_every_label(tmp_path: Path) -> None:
    """One document with all of them, under amsmath alone; TeX finds no error, no missing character, and runs nothing."""
    lines = [line for label in HOSTILE.values() for line in lines_with(label)]
    body = "\n".join(f"\\[ {latex(line.left)} = {latex(line.right)} \\]" for line in lines)
    text = f"\\documentclass{{article}}\\usepackage{{amsmath}}\\begin{{document}}\n{body}\n\\end{{document}}\n"
    (tmp_path / "a.tex").write_text(text, encoding="ascii")
    command = ["pdflatex", "-interaction=nonstopmode", "-halt-on-error", "-no-shell-escape", "a.tex"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, errors="replace")
    log = (tmp_path / "a.log").read_text(errors="replace")
    assert done.returncode == 0, [line for line in log.splitlines() if line.startswith(("!", "l."))]
    assert "Missing character" not in log


@pytest.mark.parametrize("label", ["emoji 😀", "床", "שקט"])
def test_what_pdflatex_cannot_set_has_a_readable_stand_in(label: str) -> None:
    """Its number, in brackets."""
    assert latex_text(label) == "".join(c if c.isascii() else f"[U+{ord(c):04X}]" for c in label)


@pytest.mark.parametrize("label", ["Größe", "façade", "Łódź", "naïve", "Čeština", "Ærø"])
def test_latex_has_the_letters_of_latin_languages(label: str) -> None:
    """No stand-in for what it can set."""
    assert "U+" not in latex_text(label)
    assert "U+" not in latex_text(unicodedata.normalize("NFD", label))


def test_plain_text_is_one_line_and_sets_names_apart() -> None:
    """Names that could be read as arithmetic stand in quotation marks; text from right to left is closed off."""
    assert plain(add(Name("Edge"), Name("a - b"))) == "Edge + “a - b”"
    assert plain(multiply(Name("שקט"), Number("2"))) == "“\u2068שקט\u2069” × 2"
    assert all("\n" not in plain(line.right) for label in HOSTILE.values() for line in lines_with(label))


def test_brackets_stand_where_they_are_needed_and_nowhere_else() -> None:
    """By the builders, whatever prints them."""
    a, b, c = (Name(letter) for letter in "abc")
    assert plain(multiply(add(a, b), c)) == "(a + b) × c"
    assert plain(add(multiply(a, b), c)) == "a × b + c"
    assert plain(negative(add(a, b))) == "−(a + b)"
    assert plain(power(divide(a, b), c)) == "(a/b)^c"
    assert plain(divide(add(a, b), multiply(b, c))) == "(a + b)/(b × c)"
    assert latex(divide(add(a, b), c)) == r"\frac{\text{a} + \text{b}}{\text{c}}"


def test_a_long_sum_is_set_on_several_lines() -> None:
    """Nothing is lost, and the signs go with their parts."""
    parts = [multiply(Number(f"0.{n}"), Name(f"some rating number {n}")) for n in range(10, 40)]
    whole = add(*parts)
    assert len(lines_of(whole)) > 3
    assert [part for line in lines_of(whole) for part in line] == parts
    assert latex(whole).count(r"\\[2pt] {} +") == len(lines_of(whole)) - 1
    assert mathml(whole).count("<mtr>") == len(lines_of(whole))


def test_typst_has_every_letter_that_is_not_replaced() -> None:
    """Under PDF/UA Typst refuses what its fonts cannot show: nothing of `COVERED`, as text, code and mathematics."""
    compiler = pytest.importorskip("typst", reason="the typst package is not installed: pip install 'steelyard[pdf]'")
    letters = [chr(n) for first, last in COVERED for n in range(first, last + 1)]
    shown = ["a" + letter for letter in letters if unicodedata.category(letter) not in {"Cc", "Cf", "Cn", "Zs"}]

    def compiled(texts: list[str]) -> bytes:
        quoted = [f'"{text}"' if '"' not in text and "\\" not in text else typst_string(text) for text in texts]
        lines = [f'#{text} #raw({text})\n#math.equation(alt: "x", ${text}$)\n' for text in quoted]
        source = '#set document(title: "t")\n#set text(lang: "en")\n' + "\n".join(lines)
        return bytes(compiler.compile(source.encode(), ignore_system_fonts=True, pdf_standards=["ua-1"]))

    assert compiled(shown)[:5] == b"%PDF-"
    with pytest.raises(compiler.TypstError, match="could not be displayed"):
        compiled(["a😀"])
