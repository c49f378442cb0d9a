"""One item under `vary` of a study file: what it is about, and how that varies."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from analysis.study.building import (
    Wording,
    anchor_moves,
    choice_move,
    leave_out_move,
    limits_move,
    number_move,
    weights_move,
    weights_of,
)
from analysis.study.distributions import Pick
from analysis.study.number_items import chances_of, distribution_of, fits
from analysis.study.study import Move
from analysis.study.weight_items import share_of, weight_rule
from scoring.addresses import Addressed, addresses, written
from scoring.addresses import set_address as try_address
from scoring.catalogue import Catalogue
from scoring.document import Mapping, Node, Scalar, Sequence, write_flow
from scoring.errors import SteelyardError, nearest
from scoring.expression import NUMBER
from scoring.form import Choice, Curve, Form, Number, Output
from scoring.reader.fields import Fields, Reader
from scoring.reader.wording import clip
from scoring.renamed import address_today

SUBJECTS = ("weights", "anchors", "address", "blend", "limits", "leave_out", "readings", "unread")
WEIGHT_RULES = ("factor", "plus_minus", "dirichlet", "simplex", "between")
DISTRIBUTIONS = ("uniform", "normal", "triangular", "lognormal", "choose")
OTHERS = ("within", "order", "chances", "group")
EVERY = {"every score": "scores", "every rating": "ratings"}
MOST_OPTIONS = 100
#: Choices about readings that can be made anew for every draw; other numbers of a measure have no part in a score.
OF_READINGS = ("repeats", "trim", "reporting_limit", "below_limit", "round.step", "round.rule")


@dataclass(frozen=True, slots=True)
class ItemReader:
    """Reads the items of one study file."""

    reader: Reader
    form: Form
    catalogue: Catalogue

    @property
    def keys(self) -> tuple[str, ...]:
        """Every key that an item may have."""
        return (*SUBJECTS, *WEIGHT_RULES, *DISTRIBUTIONS, *OTHERS)

    def wording(self, item: Fields) -> Wording:
        """Where an item stands, and its group."""
        return Wording(str(item.place), item.text("group"))

    def only(self, item: Fields, *keys: str) -> None:
        """A fault for every other key."""
        for key in sorted(item.keys - set(keys) - {"group"}):
            expected = ", ".join(f"`{name}`" for name in (*keys, "group"))
            self.reader.fault(item.place, f"`{key}` beside `{keys[0]}`", f"only {expected}", f"At {item.address}.")

    def moves(self, item: Fields) -> Iterator[Move]:
        """The moves that an item stands for."""
        subjects = [key for key in SUBJECTS if key in item]
        if len(subjects) != 1:
            found = " and ".join(f"`{key}`" for key in subjects) or "nothing"
            expected = "one of " + ", ".join(f"`{key}`" for key in SUBJECTS)
            self.reader.fault(item.place, f"{found} in {item.address}", expected)
            return
        match subjects[0]:
            case "address":
                yield from self._address(item)
            case "weights":
                yield from self._weights(item)
            case "anchors":
                self.only(item, "anchors", "within")
                share = share_of(item, "within")
                if share is not None:
                    yield from self._anchors(item, share)
            case "blend":
                yield from self._blend(item)
            case "limits":
                yield from self._limits(item)
            case "leave_out":
                self.only(item, "leave_out")
                for output in self._weighed(item, "leave_out"):
                    if sum(weight.value > 0 for weight in weights_of(output)) > 1:
                        yield leave_out_move(output, self.wording(item))
                    else:
                        found = f"`{output.name}`, of which one part has all the weight"
                        self.reader.fault(item.place, found, "two or more parts with a weight above 0")

    def _outputs(self, item: Fields, key: str) -> Iterator[Output]:
        """The outputs that a subject names: one, a list, or every score or rating."""
        node = item.node_of(key)
        known = {output.name: output for output in self.form.outputs}
        if isinstance(node, Scalar) and node.text in EVERY:
            yield from (output for output in self.form.outputs if output.section == EVERY[node.text])
            return
        names = (node.text,) if isinstance(node, Scalar) else item.words(key)
        for name in names:
            if name in known:
                yield known[name]
            else:
                expected = "`every score`, `every rating`, or names of scores or ratings"
                self.reader.fault(item.place, f"`{clip(name)}` under {item.path(key)}", expected, nearest(name, known))

    def _weighed(self, item: Fields, key: str) -> Iterator[Output]:
        """Those with two or more weights; a fault where a name asks for one that has none."""
        node = item.node_of(key)
        all_of_them = isinstance(node, Scalar) and node.text in EVERY
        for output in self._outputs(item, key):
            if weights_of(output):
                yield output
            elif not all_of_them:
                self.reader.fault(item.place, f"`{output.name}`, which has no weights", "two or more weighted parts")

    def _anchors(self, item: Fields, share: float) -> Iterator[Move]:
        node = item.node_of("anchors")
        for output in self._outputs(item, "anchors"):
            moves = list(anchor_moves(self.form, output, share, self.wording(item)))
            if not moves and not (isinstance(node, Scalar) and node.text in EVERY):
                found = f"`{output.name}`, which has no anchors along a measure"
                self.reader.fault(item.place, found, "a rating or score with such a curve")
            yield from moves

    def _weights(self, item: Fields) -> Iterator[Move]:
        rules = [key for key in WEIGHT_RULES if key in item]
        if len(rules) != 1:
            found = " and ".join(f"`{key}`" for key in rules) or "no rule"
            expected = "one of " + ", ".join(f"`{key}`" for key in WEIGHT_RULES)
            self.reader.fault(item.place, f"{found} beside `weights`", expected, f"At {item.address}.")
            return
        self.only(item, "weights", rules[0], *(("order",) if rules[0] == "simplex" else ()))
        for output in self._weighed(item, "weights"):
            rule = weight_rule(item, rules[0], output)
            if rule is not None:
                yield weights_move(output, rule, self.wording(item))

    def _blend(self, item: Fields) -> Iterator[Move]:
        self.only(item, "blend", "choose", "chances")
        for output in self._outputs(item, "blend"):
            if output.blend is None:
                self.reader.fault(item.place, f"`{output.name}`, which has no blend", "a rating or score with one")
            else:
                yield from self._choice(item, output.blend)

    def _limits(self, item: Fields) -> Iterator[Move]:
        self.only(item, "limits", "choose")
        options = item.words("choose") if "choose" in item else ("on", "off")
        if sorted(options) != ["off", "on"]:
            self.reader.fault(item.place, f"`choose: [{', '.join(options)}]` beside `limits`", "[on, off]")
        node = item.node_of("limits")
        all_of_them = isinstance(node, Scalar) and node.text in EVERY
        for output in self._outputs(item, "limits"):
            if any(limit.apply.value == "always" for limit in output.limits):
                yield limits_move(output, self.wording(item))
            elif not all_of_them:
                found = f"`{output.name}`, which has no limits that apply"
                self.reader.fault(item.place, found, "a rating or score with limits")

    def _address(self, item: Fields) -> Iterator[Move]:
        known = addresses(self.form)
        address = address_today(item.text("address"))
        hows = [key for key in DISTRIBUTIONS if key in item]
        if address not in known:
            hint = nearest(address, known)
            self.reader.fault(item.place, f"the address `{clip(address)}`", "an address of the formula", hint)
        elif len(hows) != 1:
            found = " and ".join(f"`{key}`" for key in hows) or "nothing to say how it varies"
            expected = "one of " + ", ".join(f"`{key}`" for key in DISTRIBUTIONS)
            self.reader.fault(item.place, f"{found} at {address}", expected)
        elif not self._may_vary(item, address, hows[0]):
            return
        elif hows[0] == "choose":
            self.only(item, "address", "choose", "chances")
            yield from self._choice(item, known[address])
        else:
            self.only(item, "address", hows[0])
            yield from self._number(item, known[address], hows[0])

    def _may_vary(self, item: Fields, address: str, how: str) -> bool:
        """Whether an address has a part in a score, and can be varied in this way."""
        section, _, rest = address.partition(".")
        if section == "measures" and (rest.partition(".")[2] not in OF_READINGS or how != "choose"):
            expected = "`choose` at " + ", ".join(OF_READINGS) + " of a measure"
            self.reader.fault(item.place, f"`{how}` at {address}", expected, "`readings: repeatability` is the noise.")
            return False
        if section == "measures" and rest.partition(".")[0] not in self.catalogue.readings:
            self.reader.fault(item.place, f"the address {address}", "a measure that the catalogue has readings of")
            return False
        if section in ("ranks", "bands", "bands_on", "gates", "error_correlations") or "scale.show." in address:
            self.reader.fault(item.place, f"the address {address}", "something that a score is made of")
            return False
        return True

    def _number(self, item: Fields, noun: Addressed, how: str) -> Iterator[Move]:
        if not isinstance(noun, Number):
            expected = "`choose`, with values to choose among"
            self.reader.fault(item.place, f"`{how}` at {noun.address}, which is no number", expected)
            return
        distribution = distribution_of(item, noun, how)
        if distribution is not None and fits(item, self.form, noun, distribution):
            yield number_move(self.form, noun, distribution, self.wording(item))

    def _choice(self, item: Fields, noun: Addressed) -> Iterator[Move]:
        listed = item.required("choose")
        nodes = self.reader.items(listed, item.path("choose"), "values to choose among")
        if not isinstance(listed, Sequence):
            return
        if len(nodes) > MOST_OPTIONS:
            self.reader.fault(item.place, f"{len(nodes)} options at {noun.address}", f"at most {MOST_OPTIONS}")
            return
        options = [self._option(node, noun) for node in nodes]
        if len(set(options)) < max(2, len(options)):
            self.reader.fault(item.place, f"{len(set(options))} different options", "two or more, each once")
            return
        if written(self.form, noun) not in options:
            expected = f"`stated` among them ({written(self.form, noun)} stands there)"
            self.reader.fault(item.place, f"options at {noun.address} that leave out the stated one", expected)
            return
        chances = chances_of(item, len(options))
        if chances is None:
            return
        if isinstance(noun, Number) and not noun.address.startswith("measures."):
            yield from self._picked_number(item, noun, options, chances)
            return
        for node, option in zip(nodes, options, strict=True):
            try:
                try_address(self.form, noun.address, option)
            except SteelyardError as fault:
                for problem in fault.problems:
                    self.reader.fault(node.place, problem.found, problem.expected, problem.hint)
                return
        yield choice_move(self.form, noun.address, options, chances, self.wording(item))

    def _option(self, node: Node, noun: Addressed) -> str:
        """An option as text that can be set: `stated` is what stands there; a curve is as written."""
        if isinstance(node, Scalar) and node.text == "stated":
            return written(self.form, noun)
        if isinstance(noun, Curve) and isinstance(node, Mapping):
            return write_flow(node)
        if isinstance(noun, Choice | Number) and not isinstance(node, Scalar):
            self.reader.fault(node.place, "more than a word or number", f"a value for {noun.address}")
            return ""
        text = node.text if isinstance(node, Scalar) else ""
        if isinstance(noun, Number) and re.fullmatch(rf"[+-]?{NUMBER}", text) and float(text) == noun.value:
            return written(self.form, noun)  # 5 is 5.0
        return text

    def _picked_number(
        self, item: Fields, number: Number, options: list[str], chances: tuple[float, ...]
    ) -> Iterator[Move]:
        nodes = self.reader.items(item.node_of("choose"), item.path("choose"), "numbers")
        values = []
        for option, node in zip(options, nodes, strict=True):
            read = number if option == written(self.form, number) else None
            read = read or self.reader.number(node, number.address, percent=True)
            if read is not None:
                values.append(read.value)
        if len(values) == len(options):
            pick = Pick(tuple(values), chances)
            if fits(item, self.form, number, pick):
                yield number_move(self.form, number, pick, self.wording(item))
