"""What a report was made from: formulas, catalogues, what was tried, the seed, the study; said in every format."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analysis.cautions import cautions
from analysis.draft.marked import Standing
from analysis.draft.standing import called_draft, draft_in_words, draft_key, draft_of, draft_sentence
from analysis.outputs.guard import WRITTEN_BY
from analysis.study import Study
from analysis.wording import counted
from scoring.catalogue import Catalogue, ProductNames
from scoring.form import Form
from scoring.table.selection import OF_THE_WHOLE, Selected
from scoring.table.table import ScoreTable

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, eq=False)
class Edition:
    """A formula, and the catalogue it was applied to, None for none."""

    form: Form
    catalogue: Catalogue | None

    @property
    def called(self) -> str:
        """The formula's name and version."""
        return f"{self.form.name} {self.form.version}".strip()

    @property
    def draft(self) -> tuple[Standing, ...]:
        """The guesses that stand in it; none of what is finished."""
        return draft_of(self.form, self.catalogue)


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """What a report was made from.

    editions: "" -> the one edition, or "old" and "new"; cautions are those of the last
    settings: "ADDRESS=VALUE" of what was tried; seed: None where nothing is drawn; study: what varies, None for none
    about: what else was asked, such as one product, by the names that files give it; draws: how many, None for none
    draws_in_words: how a line says that number, and of what they are; selected: the part of the catalogue, None for all
    """

    editions: Mapping[str, Edition]
    settings: tuple[str, ...] = ()
    seed: int | None = None
    study: Study | None = None
    about: Mapping[str, str | Sequence[str]] = field(default_factory=dict)
    draws: int | None = None
    draws_in_words: str = "{} draws"
    selected: Selected | None = None

    @property
    def newest(self) -> Edition:
        """The edition that the report is about."""
        return list(self.editions.values())[-1]

    @property
    def cautions(self) -> tuple[str, ...]:
        """What every publication warns of."""
        return cautions(self.newest.form)

    @property
    def product_names(self) -> ProductNames:
        """What products are called; those of the newest edition first."""
        found = ProductNames()
        for edition in reversed(list(self.editions.values())):
            if edition.catalogue is not None:
                found = found.beside(edition.catalogue.product_names)
        return found

    @property
    def headed(self) -> str:
        """The formula's name and version, that it is a draft where guesses stand in it, and what was tried on it."""
        draft = called_draft(self.newest.draft)
        return self.newest.called + (f", {draft}" if draft else "") + self._tried_and_part

    @property
    def without_draft(self) -> str:
        """The same for what says of the guesses by itself."""
        return self.newest.called + self._tried_and_part

    @property
    def _tried_and_part(self) -> str:
        tried = f", with {', '.join(self.settings)}" if self.settings else ""
        part = "" if self.selected is None else f", {self.selected.called}: {self.selected.of_all}"
        return tried + part

    @property
    def remarks(self) -> tuple[str, ...]:
        """What a terminal says of its figures after them."""
        return () if self.selected is None else (OF_THE_WHOLE,)

    def document(self) -> dict[str, Any]:
        """The head of a JSON document."""
        head = {**WRITTEN_BY, **self._editions(), "set": list(self.settings)}
        if self.selected is not None:
            head["where"] = {"conditions": self.selected.typed, "selected": self.selected.count}
        head |= {name: value if isinstance(value, str) else list(value) for name, value in self.about.items()}
        if self.seed is not None:
            head["seed"] = self.seed
        if self.draws is not None:
            head["draws"] = self.draws
        head["cautions"] = list(self.cautions)
        return head if self.study is None else head | {"study": study_document(self.study)}

    def _editions(self) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for name, edition in self.editions.items():
            form, catalogue = edition.form, edition.catalogue
            said: dict[str, Any] = {
                "formula": {"name": form.name, "version": form.version, "sha256": form.sha256},
            }
            if catalogue is not None:
                said["catalogue"] = {"sha256": catalogue.sha256, "products": len(catalogue.products)}
                corrections = [one.document for one in catalogue.published_corrections]
                said["catalogue"] |= {"corrections": corrections} if corrections else {}
            said |= draft_key(edition.draft)
            found |= {name: said} if name else said
        return found

    def columns(self) -> dict[str, Any]:
        """The last columns of a table in a file: the hashes, and the cautions at the very end."""
        found: dict[str, Any] = {}
        for name, edition in self.editions.items():
            before = f"{name}_" if name else ""
            found[f"{before}formula"] = edition.called
            found[f"{before}formula_sha256"] = edition.form.sha256
            if edition.catalogue is not None:
                found[f"{before}catalogue_sha256"] = edition.catalogue.sha256
            if edition.draft:
                found[f"{before}draft"] = draft_in_words(edition.draft)
        found["set"] = "; ".join(self.settings)
        if self.selected is not None:
            found["where"] = "; ".join(self.selected.typed)
        found |= {name: value if isinstance(value, str) else "; ".join(value) for name, value in self.about.items()}
        if self.study is not None:
            found |= {"study": self.study.name, "study_sha256": self.study.sha256}
        if self.seed is not None:
            found["seed"] = self.seed
        if self.draws is not None:
            found["draws"] = self.draws
        return found | {"cautions": " ".join(self.cautions)}

    def on(self, frame: pd.DataFrame) -> pd.DataFrame:
        """A table with what it was made from and the cautions, as every published table has."""
        return frame.assign(**self.columns())

    def lines(self) -> list[str]:
        """The same in words, one line each."""
        found = []
        for name, edition in self.editions.items():
            found.append(f"{name.capitalize() or 'Formula'} {edition.called}, sha256 {edition.form.sha256}.".strip())
            if edition.catalogue is not None:
                count = len(edition.catalogue.products)
                found.append(f"Catalogue of {counted(count, 'product')}, sha256 {edition.catalogue.sha256}.")
                found += [f"Corrected by the recipe: {one.says}" for one in edition.catalogue.published_corrections]
            if edition.draft:
                found.append(draft_sentence(edition.draft))
        if self.settings:
            found.append(f"Tried: {', '.join(self.settings)}.")
        if self.selected is not None:
            found += [self.selected.in_words, OF_THE_WHOLE]
        for name, value in self.about.items():
            if value:
                said = value if isinstance(value, str) else ", ".join(value)
                found.append(f"{name.capitalize().replace('_', ' ')}: {said}.")
        if self.study is not None and self.study.sha256:
            found.append(f"Study {self.study.name}, sha256 {self.study.sha256}.")
        if self.seed is not None:
            found.append(f"Seed {self.seed}.")
        if self.draws is not None:
            found.append(f"{self.draws_in_words.format(f'{self.draws:,}')}.")
        return found

    def texts(self) -> list[str]:
        """Every text of the files that a sentence may hold."""
        found: list[str] = []
        for edition in self.editions.values():
            form = edition.form
            found += [form.name, form.title, form.version, *form.band_names]
            found += [measure.label for measure in form.measures]
            found += [attribute.label for attribute in form.attributes]
            found += [output.label for output in form.outputs]
            for gate in form.gates:
                found += [gate.withhold, gate.remark, gate.near, gate.missing]
            found += edition.catalogue.products if edition.catalogue is not None else ()
        names = self.product_names
        found += [*(names.names or {}).values(), *(names.makers or {}).values()]
        return found


@dataclass(frozen=True, slots=True)
class InWords:
    """What a report was made from, where that is no formula at hand: such as a record, which may be broken.

    headed: what it is called; said: what it is, one line each; last_columns: the same at the end of a table; product_names: what
    the products in it are called
    """

    headed: str
    said: tuple[str, ...]
    cautions: tuple[str, ...]
    last_columns: Mapping[str, str]
    product_names: ProductNames = field(default_factory=ProductNames)

    @property
    def remarks(self) -> tuple[str, ...]:
        """What a terminal says of its figures after them."""
        return ()

    def document(self) -> dict[str, Any]:
        """The head of a JSON document."""
        return dict(WRITTEN_BY)

    def on(self, frame: pd.DataFrame) -> pd.DataFrame:
        """A table with what it was made from and the cautions."""
        return frame.assign(**self.last_columns, cautions=" ".join(self.cautions))

    def lines(self) -> list[str]:
        """What it was made from, in words."""
        return list(self.said)

    def texts(self) -> list[str]:
        """Every text of the files that a sentence may hold."""
        return [self.headed]


def source_of(table: ScoreTable, seed: int | None = None, study: Study | None = None) -> Source:
    """What a report on one score table was made from."""
    return Source({"": Edition(table.form, table.catalogue)}, table.settings, seed, study, selected=table.selected)


def file_of(origin: str) -> str:
    """Where something was said, without the folder of the file, which is another on every machine."""
    return origin.rsplit("/", 1)[-1].rsplit("\\", 1)[-1]


def texts_of(form: Form) -> list[dict[str, str]]:
    """The texts of a formula as they are written, by names that do not tell where on a machine the files stood."""
    folder = Path(form.sources[0].name).parent
    return [{"name": Path(source.name).relative_to(folder).as_posix(), "text": source.text} for source in form.sources]


def study_document(study: Study) -> dict[str, Any]:
    """The study as asked for, with its resolved table."""
    return {
        "name": study.name,
        "sha256": study.sha256 or None,
        "top": study.top,
        "notes": list(study.notes),
        "factors": [
            {
                "factor": factor.name,
                "group": factor.kind,
                "section": factor.section,
                "output": factor.output or None,
                "stated": factor.stated,
                "varies": factor.says,
                "unit": factor.unit or None,
                "from": file_of(factor.origin),
            }
            for factor in study.factors
        ],
        "correlations": [
            {"between": [first, second], "correlation": value} for first, second, value in study.correlations
        ],
    }
