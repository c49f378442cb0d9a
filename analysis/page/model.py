"""What a page knows: one document of products, readings, numbers, choices and rules, and the code of every step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

from analysis.cautions import cautions
from analysis.draft.standing import draft_key, draft_of
from analysis.page.left_behind import left_behind
from analysis.page.nouns import choice_document, left_out, number_document, spot_document, subjects_of
from analysis.page.readings import measure_documents, plain, population_documents, word_documents
from analysis.page.rules import rule_documents
from analysis.page.variants import Variants, variants_of
from analysis.report.source import texts_of
from scoring.addresses.addresses import addresses
from scoring.addresses.number_units import number_units
from scoring.blends import BLENDS, Weights
from scoring.curves import KINDS
from scoring.curves.kind import ERROR
from scoring.form import OWN_BANDS, Band, BandLimit, Bands, Choice, Curve, Gate, Number, Output, Scale
from scoring.program.javascript import Registers
from scoring.program.program import GIVEN, Figure
from scoring.table.gates import not_known, without_value
from scoring.table.table import STATUSES, ScoreTable


@dataclass(frozen=True, slots=True)
class PageModel:
    """`document` is plain nouns for JSON; `codes` are expressions in the registers, one function each."""

    document: dict[str, Any]
    codes: tuple[str, ...]


def page_model(table: ScoreTable, where: Sequence[str] = ()) -> PageModel:
    """The model of a score table's formula and catalogue; where: "ATTRIBUTE=WORD" of what its menus choose at first.

    Raises
    ------
    FormulaError : outputs need each other in a circle
    """
    return _Build(table, where).model()


class _Build:
    """Registers, codes and choices are given their places as they are first met."""

    def __init__(self, table: ScoreTable, where: Sequence[str]) -> None:
        self.table, self.form, self.where = table, table.form, tuple(where)
        self.program = table.program
        self.registers = Registers()
        self.variants: Variants = variants_of(self.form, self.registers)
        self.codes: dict[str, int] = {}
        self.choices: dict[str, dict[str, Any]] = {}
        self.nouns = addresses(self.form)
        self.subjects, self.units = subjects_of(self.form), number_units(self.form)

    def model(self) -> PageModel:
        form, table = self.form, self.table
        rules = self.rules()
        measures = measure_documents(form, table.catalogue, self.registers)
        for measure in measures:
            for address, options in measure.pop("options").items():
                self.choice(self.noun(address), options)
            measure["choices"] = [self.choices[address]["place"] for address in measure["choices"]]
        document = {
            **self.header(),
            "measures": measures,
            "words": word_documents(table.catalogue, self.registers),
            "populations": population_documents(form, self.registers),
            "output_figures": self.output_figures(),
            **rules,
            "constants": [self.registers.at("h", name) for name, _ in form.constants],
            "numbers": [self.number_document(str(address)) for address in self.registers.of("p")],
            "choices": list(self.choices.values()),
            "followers": self.followers(),
            "here": list(self.registers.of("h")),
        }
        moved = {str(address) for address in self.registers.of("p")}
        moved |= {address for address, choice in self.choices.items() if len(choice["options"]) > 1}
        document["left_out"] = left_out(form, moved)
        return PageModel(document, tuple(self.codes))

    def output_figures(self) -> list[dict[str, Any]]:
        """The statistics of ratings and scores that a live reference takes, in order of need."""
        order = {name: place for place, name in enumerate(self.program.order)}
        figures = [figure for figure in self.registers.of("f") if isinstance(figure, Figure)]
        of_outputs = sorted((figure for figure in figures if figure.measure in order), key=lambda f: order[f.measure])
        return [
            {"place": self.registers.at("f", f), "output": f.measure, "statistic": f.statistic, "share": f.share}
            for f in of_outputs
        ]

    def header(self) -> dict[str, Any]:
        """What the page says of itself, and what is published."""
        form, catalogue = self.form, self.table.catalogue
        names = catalogue.product_names
        return {
            "formula": {"name": form.name, "version": form.version, "title": form.title, "sha256": form.sha256},
            "catalogue": {"sha256": catalogue.sha256},
            **draft_key(draft_of(form, catalogue)),
            "tool": f"steelyard {version('steelyard')}",
            "cautions": list(cautions(form)),
            "sources": texts_of(form),
            "products": list(catalogue.products),
            "names": [names.name(product) for product in catalogue.products],
            "attributes": [
                {"name": name, "label": self.attribute_label(name), "words": list(words)}
                for name, words in catalogue.published.items()
                if name != catalogue.roles.name  # it stands beside the ids
            ],
            "where": list(self.where),
            "statuses": list(STATUSES),
            "published": {
                column.output.name: {
                    "value": plain(column.value),
                    "shown": plain(column.shown),
                    "rank": plain(column.rank),
                }
                for column in self.table.ratings + self.table.scores
            },
        }

    def attribute_label(self, name: str) -> str:
        attribute = self.form.attributes_by_name.get(name)
        return (attribute.label if attribute is not None else "") or name

    def rules(self) -> dict[str, Any]:
        """Outputs in order of need, gates, and the formula's bands."""
        form = self.form
        order = {name: place for place, name in enumerate(self.program.order)}
        return {
            "outputs": [self.output(o) for o in sorted(form.outputs, key=lambda output: order[output.name])],
            "columns": [output.name for output in form.scores + form.ratings],
            "gates": [self.gate(gate) for gate in form.gates],
            "domains": self.domains(),
            "bands": self.edges(form.bands),
            "bands_on": self.choice(form.bands_on),
            "rules": rule_documents(form, self.registers.number),
        }

    def output(self, output: Output) -> dict[str, Any]:
        """One rating or score: what it takes, when it is there, its steps and its scale."""
        return {
            "name": output.name,
            "label": output.label,
            "section": output.section,
            "address": output.address,
            "neutral": output.neutral,
            "place": self.registers.at("o", output.name),
            "here": self.registers.at("h", output.name),
            "is_value": output.value is not None,
            "parts": self.parts(output),
            "needs": [self.registers.at("h", name) for name in output.missing.needs],
            "absent_above": self.registers.number(output.missing.absent_above),
            "otherwise": self.choice(output.missing.otherwise),
            "not_applicable": self.not_applicable(output),
            "scale": self.scale(output.scale),
            "ranks": {rule: self.choice(getattr(output.ranks, rule)) for rule in ("on", "ties", "best", "within")},
            "bands": self.bands(output.bands),
            "band_limits": [self.band_limit(limit) for limit in output.band_limits],
            "steps": self.steps(output.name),
            "given": self.steps(f"gate {GIVEN}{output.name}"),
        }

    def not_applicable(self, output: Output) -> dict[str, Any]:
        """What is done with what does not apply: as it is said, or by whether the blend is a total."""
        said, blend = output.missing.not_applicable, output.blend
        totals = (
            [] if blend is None else [name for name in blend.options if BLENDS[name].weights is Weights.MULTIPLIERS]
        )
        return {
            "choice": -1 if said is None else self.choice(said),
            "is_said": said is not None and not said.is_unwritten,
            "blend": -1 if blend is None else self.choice(blend),
            "totals": totals,
        }

    def bands(self, bands: Bands) -> dict[str, Any]:
        """Whose bands an output has, and its own, if it has any; those of the formula stand once for all outputs."""
        own = () if bands.chosen is None or bands.chosen.value != OWN_BANDS else bands.edges
        return {"choice": -1 if bands.chosen is None else self.choice(bands.chosen), "own": self.edges(own)}

    def edges(self, bands: Sequence[Band]) -> list[dict[str, Any]]:
        return [{"name": band.name, "edge": self.registers.number(band.edge)} for band in bands]

    def band_limit(self, limit: BandLimit) -> dict[str, Any]:
        """A limit of bands: its condition, in pieces between its numbers, what it asks for, and the best band it lets through."""
        numbers = limit.when.numbers
        texts = [number.spot.before for number in numbers] + [limit.when.text]
        ends = [len(number.spot.before) + len(number.text) for number in numbers]
        pieces = [text[start:] for start, text in zip([0, *ends], texts, strict=True)]
        return {
            "names": [self.registers.at("h", name) for name in limit.when.names if self.is_read(name)],
            "when": {"pieces": pieces, "numbers": [self.registers.number(number) for number in numbers]},
            "best": self.choice(limit.no_better_than),
            "steps": self.steps(f"gate {limit.condition}"),
        }

    def parts(self, output: Output) -> list[dict[str, Any]]:
        """What carries weight: the parts, or an expression's names, each weighing 1."""
        if output.value is not None:
            return [self.part(name, None, None) for name in output.value.names]
        return [self.part(part.source, part.weight, part.curve) for part in output.parts]

    def part(self, source: str, weight: Number | None, curve: Curve | None) -> dict[str, Any]:
        document: dict[str, Any] = {
            "source": source,
            "here": self.registers.at("h", source),
            "weight": self.registers.number(weight) if weight is not None else -1,
        }
        if curve is not None:
            document["curve"] = curve.address
        return document

    def scale(self, scale: Scale) -> dict[str, Any]:
        return {
            "low": self.registers.number(scale.low),
            "high": self.registers.number(scale.high) if scale.high is not None else -1,
            "step": self.registers.number(scale.show.step),
            "rule": self.choice(scale.show.rule),
        }

    def steps(self, name: str) -> list[dict[str, Any]]:
        """Each step of an output or gate: where its value goes, and its code under each combination of choices."""
        found = []
        for step in self.variants.steps:
            if step.key[0] == name:
                choices = [self.choice(self.noun(a), self.variants.options[a]) for a in step.choices]
                codes = [self.codes.setdefault(code, len(self.codes)) for code in step.codes]
                curve = step.key[1] == "curve"
                to = self.registers.at("s", step.key) if curve else -1
                document = {"kind": step.key[1], "address": step.key[2], "to": to, "choices": choices, "codes": codes}
                found.append(document | ({"ratios": self.in_ratios(step.key[2])} if curve else {}))
        return found

    def in_ratios(self, address: str) -> bool:
        """Whether the curve at a step's address counts ratios of its measure."""
        nouns = (self.nouns.get(place) for place in (address, f"{address}.curve"))
        return any(isinstance(noun, Curve) and KINDS[noun.kind].in_ratios for noun in nouns)

    def gate(self, gate: Gate) -> dict[str, Any]:
        guarded = gate.guard is not None
        return {
            "name": gate.name,
            "address": gate.address,
            "names": [self.registers.at("h", name) for name in gate.when.names if self.is_read(name)],
            "guard": self.registers.number(gate.guard) if gate.guard is not None else -1,
            "measure": self.registers.at("m", gate.when.names[0]) if guarded else -1,
            "withhold": gate.withhold,
            "remark": gate.remark,
            "near": gate.near,
            "missing": gate.missing or not_known(gate),
            "without_value": gate.missing or without_value(gate),
            "unknown": self.choice(gate.unknown),
            "scores": list(gate.scores),
            "steps": self.steps(f"gate {gate.name}"),
        }

    def is_read(self, name: str) -> bool:
        """Whether a name is anything but a constant, which is always there."""
        return name not in dict(self.form.constants)

    def domains(self) -> list[dict[str, Any]]:
        """The curves that can refuse what lies beyond their ends."""
        found = []
        for output in self.form.outputs:
            curves: list[tuple[str | None, Curve | None, Choice | None]]
            curves = [(part.source, part.curve, None) for part in output.parts]
            curves += [(limit.on, limit.curve, limit.apply) for limit in output.limits]
            for source, curve, apply in curves:
                ends = KINDS[curve.kind].ends if curve is not None else None
                if curve is None or source is None or ends is None or ERROR not in KINDS[curve.kind].outside:
                    continue
                (low, high), (below, above) = ends(curve), curve.outside
                found.append(
                    {
                        "source": source,
                        "curve": curve.address,
                        "low": self.registers.number(low),
                        "high": self.registers.number(high),
                        "below": self.choice(below),
                        "above": self.choice(above),
                        "apply": self.choice(apply) if apply is not None else -1,
                    }
                )
        return found

    def followers(self) -> list[dict[str, Any]]:
        """The numbers that are others under an option, as long as they are not set themselves."""
        numbers = self.registers.of("p")
        return [
            {
                "choice": self.choices[follower.choice]["place"],
                "option": self.choices[follower.choice]["options"].index(follower.option),
                "number": numbers.index(follower.number),
                "value": follower.value,
            }
            for follower in self.variants.followers
            if follower.choice in self.choices and follower.number in numbers
        ]

    def noun(self, address: str) -> Choice:
        noun = self.nouns[address]
        assert isinstance(noun, Choice)  # only choices have options
        return noun

    def choice(self, choice: Choice, options: Sequence[str] | None = None) -> int:
        """The place of a choice among the page's; it is given one when it is first met."""
        if choice.address not in self.choices:
            known = options or self.variants.options.get(choice.address, (choice.value,))
            document = choice_document(choice, known, self.subjects.get(choice.address, ""))
            gone = left_behind(self.form, choice, known)
            if any(gone):
                document["left_behind"] = [[spot_document(spot) for spot in spots] for spots in gone]
            self.choices[choice.address] = {"place": len(self.choices), **document}
        place: int = self.choices[choice.address]["place"]
        return place

    def number_document(self, address: str) -> dict[str, Any]:
        noun = self.nouns[address]
        assert isinstance(noun, Number)  # registers hold numbers of the form only
        return number_document(noun, self.subjects.get(address, ""), self.units[address])
