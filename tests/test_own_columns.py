"""Catalogues that call columns otherwise than the formula: `column` of a measure, and `product_column`."""

from __future__ import annotations

from pathlib import Path

import pytest

from scoring.catalogue import Catalogue, read_catalogue
from scoring.errors import CatalogueError, FormulaError
from scoring.reader import read_sources
from scoring.texts.source import Source

FORM = """formula: own
product_column: Model
measures:
  noise_dba: {unit: dB, column: "Noise, roll-over (dB)"}
  sit_drop: {unit: mm}
ratings:
  quiet: {measure: noise_dba, curve: {line: {worst: 46, best: 22}}}
  edge: {measure: sit_drop, curve: {line: {worst: 135, best: 40}}}
"""


def read(tmp_path: Path, text: str, form: str = FORM) -> Catalogue:
    """A CSV read for the formula above."""
    path = tmp_path / "own.csv"
    path.write_text(text, encoding="utf-8")
    return read_catalogue(path, read_sources([Source("own.yaml", form)]))


def test_a_measure_is_found_under_the_name_of_its_column(tmp_path: Path) -> None:
    """With its repeats and another unit in brackets; the readings stand under the measure's own name."""
    text = 'Model,"Noise, roll-over (dB) #1","Noise, roll-over (dB) #2",sit_drop [in]\nA,30,32,2.5\nB,31,,3\n'
    catalogue = read(tmp_path, text)
    assert catalogue.products == ("A", "B")
    assert catalogue.readings["noise_dba"].values[0].tolist() == [30, 32]
    assert catalogue.readings["sit_drop"].values[:, 0].tolist() == pytest.approx([63.5, 76.2])
    assert catalogue.readings["noise_dba"].columns == ("Noise, roll-over (dB) #1", "Noise, roll-over (dB) #2")


def test_long_readings_may_use_either_name(tmp_path: Path) -> None:
    """The column's in the column `measure`, or the measure's own."""
    text = 'Model,measure,value\nA,"Noise, roll-over (dB)",30\nB,noise_dba,31\nA,sit_drop,60\n'
    catalogue = read(tmp_path, text)
    assert catalogue.readings["noise_dba"].values[:, 0].tolist() == [30, 31]


def test_a_catalogue_that_keeps_to_the_rule_is_read_all_the_same(tmp_path: Path) -> None:
    """`product` and the measures' own names do as before."""
    catalogue = read(tmp_path, "product,noise_dba,sit_drop\nA,30,60\n")
    assert catalogue.readings["noise_dba"].values[0, 0] == 30


def test_one_measure_under_both_names_is_a_fault(tmp_path: Path) -> None:
    """Which of the two holds is not guessed."""
    with pytest.raises(CatalogueError, match="repeat 1 of `noise_dba`, which the column `noise_dba` holds already"):
        read(tmp_path, 'Model,noise_dba,"Noise, roll-over (dB)"\nA,30,31\n')


def test_a_products_column_that_is_not_there_is_named(tmp_path: Path) -> None:
    """With the columns that are."""
    words = "a column called `Model`, as the formula says. Rename .* `product_column: ITS NAME` .*: Bed, sit_drop"
    with pytest.raises(CatalogueError, match=words):
        read(tmp_path, "Bed,sit_drop\nA,60\n")


def test_a_misspelt_column_is_likened_to_the_catalogues_name(tmp_path: Path) -> None:
    """The file is told what the file should say."""
    with pytest.raises(CatalogueError, match=r"Did you mean `Noise, roll-over \(dB\)`"):
        read(tmp_path, 'Model,"Noise, rollover (dB)",sit_drop\nA,30,60\n')


@pytest.mark.parametrize("column", ["Noise [dB]", "Noise #1"])
def test_a_column_is_named_without_unit_and_repeat(column: str, tmp_path: Path) -> None:
    """Which belong to the catalogue."""
    with pytest.raises(FormulaError, match="expected the column's name alone"):
        read(tmp_path, "product,sit_drop\nA,60\n", FORM.replace("Noise, roll-over (dB)", column))


def test_products_of_an_items_file_stand_in_the_same_column(tmp_path: Path) -> None:
    """Both files of a folder name them alike."""
    (tmp_path / "items.csv").write_text("Model,maker\nA,Zub\nB,Zub\n", encoding="utf-8")
    (tmp_path / "readings.csv").write_text("Model,sit_drop\nB,60\n", encoding="utf-8")
    catalogue = read_catalogue(tmp_path, read_sources([Source("own.yaml", FORM + "attributes: {maker: {}}\n")]))
    assert (catalogue.products, catalogue.attributes["maker"]) == (("A", "B"), ("Zub", "Zub"))


@pytest.mark.parametrize(("unit", "taken"), [("dB", True), ("dB(A)", True), ("mm", False)])
def test_a_columns_own_words_may_not_say_another_unit(unit: str, taken: bool, tmp_path: Path) -> None:
    """`Noise, roll-over (dB)` is no column of millimetres."""
    form = FORM.replace("unit: dB", f"unit: {unit}")
    if taken:
        assert read(tmp_path, "Model,sit_drop\nA,60\n", form).products == ("A",)
        return
    with pytest.raises(
        FormulaError, match=r"the unit `mm` for the column .*, which says dB; expected .* Write `unit: dB`"
    ):
        read(tmp_path, "Model,sit_drop\nA,60\n", form)
