"""Forms and catalogues drawn from a seed, with readings on the edges of everything that the form compares them with."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from exact.catalogues import BELOW, FACTORS, MISSING, NOT_APPLICABLE, Cell, Written, converted

#: Undefined somewhere: each was once scored where it has no value.
LOST = (
    "a / a", "0 * log(a)", "sqrt(a) ** 2", "exp(log(a))", "1 / (1 / a)", "1 ** log(b)", "sqrt(0 - 1) ** 2 + a", "where(log(a) > 0, 1, 2)",
    "clamp(1 / a, 1, 2)", "interp(log(a), 0, 1, 2, 5, 4, 3)", "a / (b - b)", "log(a - a)", "(a - a) ** -1", "where(1 / (a - a) > 0, 1, 2)",
    "a - a + log(a) - log(a)", "(a / b) * b", "a ** 0.5 * a ** 0.5", "0 * (1 / a)", "min(1, 1 / a)", "max(b, log(a))", "abs(sqrt(a))",
    "where(a > 1 or 1 / a > 2, 3, 4)", "where(a > 1 and 1 / a > 2, 3, 4)", "where(not (1 / a > 2), 3, 4)", "where(a == 0, 1, 1 / a)",
    "floor(1 / a)", "round(log(a), 0.5)", "(a - b) / (a - b)", "(a * b) / (a * b)", "a ** -1 * a", "(0 - a) ** 0.5", "log10(a) - log10(a)",
    "where(a < 1 < 1 / b, 2, 3)", "exp(0 * log(a)) + 1 / b", "sd(a) / sd(a)", "(a - mean(a)) / sd(a)", "a ** b", "(a - 1) ** (b - 1)",
)  # fmt: skip
KINDS = ("line", "points", "smooth", "logistic", "power", "log", "target", "steps", "standing", "z", "minmax", "ratio")
BLENDS = (
    "weighted mean", "geometric mean", "harmonic mean", "power mean", "minimum", "maximum", "sum", "product",
)  # fmt: skip
RULES = ("half-up", "half-even", "down", "up")
#: Units with those that go into them.
UNITS = {
    "dB": (), "1": (), "mm": ("in", "cm"), "mg/m3": ("ug/m3",), "s": ("ms",), "kPa": ("Pa",), "degC": ("degF",), "kg": ("lb",),
    "delta_degC": ("delta_degF",),
}  # fmt: skip
RATIO_SCALED = tuple(unit for unit in UNITS if unit not in ("dB", "degC"))
#: A catalogue's plausible range, well beyond every edge.
LEAST, MOST = Fraction(-40), Fraction(200)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A form's text and a catalogue for it."""

    text: str
    written: Written


def decimal(x: Fraction) -> str:
    """A decimal fraction as it is written, with all its digits."""
    scale = 0
    while (x * 10**scale).denominator != 1:
        scale += 1
    digits = str(abs(int(x * 10**scale))).rjust(scale + 1, "0")
    text = f"{digits[:-scale]}.{digits[-scale:]}" if scale else digits
    return f"-{text}" if x < 0 else text


def is_decimal(x: Fraction, places: int = 12) -> bool:
    """Whether it can be written with so many decimals."""
    return 10**places % x.denominator == 0


def draw(seed: int, count: int = 24) -> Drawn:
    """The form and the catalogue of one seed."""
    rng = Random(seed)  # a stream of its own, by no means a secret
    return _Draw(rng, count, Random(f"published {seed}")).all()


class _Draw:
    def __init__(self, rng: Random, count: int, publishing: Random) -> None:
        self.rng, self.count = rng, count
        self.publishing = publishing  # of its own, so that what a seed draws besides stays what it was
        self.units: dict[str, str] = {}
        self.edges: dict[str, list[Fraction]] = {}
        self.measure_lines: dict[str, str] = {}
        self.floors: dict[str, Fraction] = {}
        self.repeats: dict[str, str] = {}
        self.low, self.high = rng.choice([("1", "10"), ("0", "100"), ("0", "1"), ("0.5", "5")])
        self.ratings: list[str] = []

    def figure(self, low: float, high: float, places: int | None = None) -> Fraction:
        """A plain decimal between two bounds."""
        scale = 10 ** (self.rng.choice([0, 1, 1, 2, 3]) if places is None else places)
        return Fraction(self.rng.randint(round(low * scale), round(high * scale)), scale)

    def rating_figure(self) -> str:
        """A figure on the scale."""
        low, high = Fraction(self.low), Fraction(self.high)
        share = self.rng.choice([Fraction(0), Fraction(1), Fraction(1, 2), self.figure(0, 1, 2), self.figure(0, 1, 3)])
        return decimal(low + (high - low) * share)

    def all(self) -> Drawn:
        rng = self.rng
        names = ("a", "b", "c", "d")[: rng.randint(2, 4)]
        for name in names:
            self.units[name] = rng.choice(tuple(UNITS))
            self.edges[name] = sorted({self.figure(0, 60) for _ in range(rng.randint(2, 4))})
            self.edges[name] += rng.sample([Fraction(0), Fraction(1)], rng.randint(0, 2))
        outputs = [self.rating(f"r{i}", names) for i in range(rng.randint(2, 5))]
        scores = [self.score(f"s{i}") for i in range(rng.randint(1, 2))]
        gates = [self.gate(i, names) for i in range(rng.randint(0, 3))]
        measures = [self.measure(name) for name in names]
        bands = sorted({Fraction(self.rating_figure()) for _ in range(3)}, reverse=True)
        ranks = (
            f"{{on: {rng.choice(['unrounded', 'shown'])}, ties: {rng.choice(['shared-best', 'shared-mean', 'dense'])}, "
        )
        ranks += f"best: {rng.choice(['highest', 'lowest'])}}}"
        lines = [
            "formula: drawn",
            f"scale: {{from: {self.low}, to: {self.high}, show: {{step: {self.step()}, rule: {rng.choice(RULES)}}}}}",
            f"ranks: {ranks}",
            "bands: {" + ", ".join(f"b{i}: {decimal(edge)}" for i, edge in enumerate(bands)) + "}",
            f"bands_on: {rng.choice(['shown', 'unrounded'])}",
            f"constants: {{k: {decimal(self.figure(0, 5))}}}",
            "attributes: {fire: {values: [ok, none]}}",
            "measures:",
            *measures,
            "ratings:",
            *outputs,
            "scores:",
            *scores,
            *(["gates:", *gates] if gates else []),
        ]
        return Drawn("\n".join(lines) + "\n", self.catalogue(names))

    def step(self) -> str:
        return self.rng.choice(["0.1", "0.1", "0.5", "0.25", "1", "0.01", "0.05"])

    def measure(self, name: str) -> str:
        rng = self.rng
        self.repeats[name] = rng.choice(["mean", "mean", "mean", "median", "trimmed", "level mean"])
        keys = [f'unit: "{self.units[name]}"', f"plausible: [{LEAST}, {MOST}]", f"repeats: {self.repeats[name]}"]
        keys.append("repeatability: 0.5")
        if self.repeats[name] == "trimmed":
            keys.append(f"trim: {rng.choice(['0.1', '0.2', '0.34'])}")
        if rng.random() < 0.25:
            self.floors[name] = rng.choice(self.edges[name])
            keys.append(f"reporting_limit: {decimal(self.floors[name])}")
        keys.append(f"below_limit: {rng.choice(['limit', 'half', 'zero', 'missing'])}")
        if rng.random() < 0.15:
            keys.append(f"round: {{step: {self.step()}, rule: {rng.choice(RULES)}}}")
        return f"  {name}: {{{', '.join(keys)}}}"

    # curves

    def rising(self, name: str, count: int) -> list[Fraction]:
        """Places along a measure, edges of it where there are enough."""
        found = sorted(set(self.rng.sample(self.edges[name], min(count, len(self.edges[name])))))
        while len(found) < count:
            found.append(found[-1] + self.figure(1, 20))
        self.edges[name] += [place for place in found if place not in self.edges[name]]
        return found

    def population(self, name: str) -> str:
        members = [*self.rng.sample(self.edges[name], 2), *(self.figure(1, 60) for _ in range(self.rng.randint(1, 5)))]
        return ", ".join(decimal(member) for member in members)

    def curve(self, name: str) -> str:
        """A curve of a measure, without its braces."""
        rng = self.rng
        kind = rng.choice(KINDS)
        if kind in ("log", "ratio") and self.units[name] not in RATIO_SCALED:
            kind = "smooth"
        outside = self.outside(kind)
        better = f"better: {rng.choice(['higher', 'lower'])}"
        if kind in ("line", "power", "log"):
            pair = self.rising(name, 2)
            if kind == "log":
                pair = [max(pair[0], Fraction(1, 10)), pair[1] + 1]
                self.edges[name] += pair
            worst, best = (decimal(x) for x in rng.sample(pair, 2))
            bent = f", exponent: {decimal(self.figure(0.3, 3, 1))}" if kind == "power" else ""
            return f"{kind}: {{worst: {worst}, best: {best}{bent}}}{outside}"
        if kind in ("points", "smooth", "steps"):
            places = self.rising(name, rng.randint(2, 5))
            anchors = ", ".join(f"{decimal(x)}: {self.rating_figure()}" for x in places)
            return f"{kind}: {{{anchors}}}{outside}"
        if kind == "logistic":
            return f"logistic: {{middle: {decimal(rng.choice(self.edges[name]))}, spread: {decimal(self.figure(1, 9))}, {better}}}"
        if kind == "target":
            low, best, high = self.rising(name, 3)
            within = min(best - low, high - best) / 2
            within = within if is_decimal(within) and rng.random() < 0.5 else Fraction(0)
            return f"target: {{low: {decimal(low)}, best: {decimal(best)}, high: {decimal(high)}, within: {decimal(within)}}}{outside}"
        live = rng.random() < 0.4
        values = "live" if live else f"{{values: [{self.population(name)}]}}"
        if kind == "z":
            centre, per_sd = self.rating_figure(), decimal(self.figure(0.1, 2, 1))
            if not live and rng.random() < 0.5:
                values = f"{{mean: {decimal(self.figure(5, 40))}, sd: {decimal(self.figure(1, 9))}}}"
            return f"z: {{centre: {centre}, per_sd: {per_sd}, {better}}}, reference: {values}"
        ties = f", ties: {rng.choice(['mean', 'lowest', 'highest'])}" if kind == "standing" else ""
        return f"{kind}: {{{better}{ties}}}, reference: {values}"

    def outside(self, kind: str) -> str:
        """What holds beyond the anchors: nothing said, one word, or one for each end."""
        rng = self.rng
        words = ["held", "held", "extended"] if kind in ("points", "line") and rng.random() < 0.3 else ["held"]
        both = f", outside: {{below: {rng.choice(words)}, above: {rng.choice(words)}}}"
        return rng.choice(["", "", f", outside: {rng.choice(words)}", both])

    def rating_curve(self) -> str:
        """A curve of a rating: from scale to scale, its ends the scale's, or on the population of the rating."""
        rng = self.rng
        kind = rng.choice(["points", "points", "steps", "smooth", "minmax", "ratio", "standing", "z"])
        if kind in ("minmax", "ratio", "standing"):
            return f"{kind}: {{better: {rng.choice(['higher', 'lower'])}}}"
        if kind == "z":
            return f"z: {{centre: {self.rating_figure()}, per_sd: {decimal(self.figure(0.1, 2, 1))}}}"
        middle = Fraction(self.low) + (Fraction(self.high) - Fraction(self.low)) * self.figure(0.1, 0.9, 2)
        anchors = ", ".join(f"{x}: {self.rating_figure()}" for x in (self.low, decimal(middle), self.high))
        outside = rng.choice(
            ["", ", outside: error", ", outside: {above: error}", ", outside: {below: error, above: held}"]
        )
        return f"{kind}: {{{anchors}}}{outside}"

    # expressions

    def number(self, names: Sequence[str]) -> str:
        pool = [edge for name in names if name in self.edges for edge in self.edges[name]] + [
            Fraction(0),
            Fraction(1),
            Fraction(2),
        ]
        return decimal(self.rng.choice(pool))

    def expression(self, names: Sequence[str], depth: int) -> str:
        """Any arithmetic at all, undefined here and there."""
        rng = self.rng
        if depth == 0 or rng.random() < 0.15:
            name = rng.choice(names)  # a measure, or a rating
            of = rng.choice(["mean({})", "median({})", "percentile({}, 30)", "maximum({})", "minimum({})", "sd({})"])
            statistic = of.format(name)
            plain = [*names, *names, *names, "k", self.number(names)]
            return rng.choice([*plain, statistic] if rng.random() < 0.3 else plain)
        a, b = (self.expression(names, depth - 1) for _ in range(2))
        n = self.number(names)
        small = rng.choice(["2", "-1", "0.5", "3", "-2", "1.5", "0"])
        condition = self.condition(names, depth - 1)
        x = sorted({self.figure(0, 20) for _ in range(2)} | {Fraction(21)})
        table = ", ".join(f"{decimal(at)}, {decimal(self.figure(0, 9))}" for at in x)
        return rng.choice([
            f"({a} + {b})", f"({a} - {b})", f"({a} * {b})", f"({a} / {b})", f"({a} - {n})", f"({a} / ({b} - {n}))", f"({a}) ** {small}",
            f"min({a}, {b})", f"max({a}, {b}, {n})", f"clamp({a}, {small}, 7)", f"abs({a})", f"sqrt({a})", f"exp({a} / 50)", f"log({a})",
            f"log10({a})", f"floor({a})", f"ceil({a})", f"round({a}, 0.5)", f"-({a})", f"where({condition}, {a}, {b})",
            f"interp({a}, {table})", f"({a} - {a})", f"({a} / {a})", f"(2 ** ({a} / 40))",
        ])  # fmt: skip

    def with_none(self, text: str, names: Sequence[str]) -> str:
        """An expression that gives no value under a condition, or under two."""
        rng, first, second = self.rng, self.condition(names, 1), self.condition(names, 1)
        ways = (f"where({first}, none, {text})", f"where({first}, {text}, none)")
        nested = f"where({first}, where({second}, {text}, none), {self.number(names)} + 0 * {names[0]})"
        return rng.choice([*ways, nested])

    def condition(self, names: Sequence[str], depth: int) -> str:
        rng = self.rng
        if rng.random() < 0.06:
            return rng.choice(["fire == none", "fire != ok"])
        a = rng.choice(names) if depth <= 0 else self.expression(names, depth - 1)
        sign = rng.choice(["<", "<=", ">", ">=", "==", "!="])
        plain = f"{a} {sign} {self.number(names)}"
        if depth <= 0 or rng.random() < 0.5:
            return plain
        other = self.condition(names, depth - 1)
        return rng.choice(
            [f"({plain} and {other})", f"({plain} or {other})", f"not ({plain})", f"({self.number(names)} <= {a} < 50)"]
        )

    # outputs

    def missing(self, sources: Sequence[str]) -> str:
        rng = self.rng
        if rng.random() < 0.4:
            return ""
        needs = f"needs: [{rng.choice(sources)}], " if rng.random() < 0.3 else ""
        share = rng.choice(["0", "0.25", "0.3", "0.5", "0.6", "0.9", "1"])
        return (
            f", missing: {{{needs}absent_above: {share}, otherwise: {rng.choice(['reweight', 'reweight', 'lowest'])}}}"
        )

    def blended(self, body: str) -> str:
        """The words of a blend, now and then with what is done with a part that does not apply."""
        words = ["absent", "reweight"] + ["left out"] * 2 * ("blend: sum" in body or "blend: product" in body)
        if self.publishing.random() < 0.5:
            return body
        said = f"not_applicable: {self.publishing.choice(words)}"
        return (
            body.replace("missing: {", f"missing: {{{said}, ")
            if "missing: {" in body
            else f"{body}, missing: {{{said}}}"
        )

    def rounding(self) -> str:
        return f", round: {{step: {self.step()}, rule: {self.rng.choice(RULES)}}}" if self.rng.random() < 0.3 else ""

    def limits(self, sources: Sequence[str], measures: Sequence[str]) -> str:
        rng, found = self.rng, []
        for _ in range(rng.choice([0, 0, 1, 1, 2])):
            sense, bound = rng.choice(["at_most", "at_least"]), self.rating_figure()
            way = rng.random()
            if way < 0.4:
                name = rng.choice(measures)
                found.append(
                    f"{{when: '{name} {rng.choice(['<', '<=', '>', '>='])} {self.number([name])}', {sense}: {bound}}}"
                )
            elif way < 0.6 and sources:
                name = rng.choice(sources)
                found.append(f"{{when: {name} {rng.choice(['<', '>='])} {self.rating_figure()}, {sense}: {bound}}}")
            elif way < 0.75 and sources:
                name = rng.choice(sources)
                points = f"{{points: {{{self.low}: {bound}, {self.high}: {self.rating_figure()}}}}}"
                found.append(f"{{on: {name}, {sense}: {points}}}")
            else:
                found.append(f"{{when: '{self.condition(measures, 2)}', {sense}: {bound}}}")
        if found and rng.random() < 0.1:
            found[0] = found[0][:-1] + ", apply: never}"
        return f", limits: [{', '.join(found)}]" if found else ""

    def blend(self, is_score: bool) -> str:
        rng = self.rng
        name = rng.choice(BLENDS)
        wide = ", scale: {from: -100000, to: 100000}" if name in ("sum", "product") or not is_score else ""
        exponent = f", exponent: {rng.choice(['-2', '-0.5', '0.5', '1', '2', '3'])}" if name == "power mean" else ""
        return f"blend: {name}{exponent}{wide if name in ('sum', 'product') else ''}"

    def rating(self, name: str, measures: Sequence[str]) -> str:
        rng = self.rng
        tail = self.limits([], measures) + self.rounding()
        way = rng.random()
        if way < 0.4:
            measure = rng.choice(measures)
            body = f"measure: {measure}, curve: {{{self.curve(measure)}}}{self.missing([measure])}{tail}"
            self.ratings.append(name)
        elif way < 0.6:
            chosen = rng.sample(measures, rng.randint(1, len(measures)))
            parts = [f"{{measure: {m}, weight: {self.weight()}, curve: {{{self.curve(m)}}}}}" for m in chosen]
            if self.ratings and rng.random() < 0.5:
                other = rng.choice(self.ratings)
                curve = f", curve: {{{self.rating_curve()}}}" if rng.random() < 0.7 else ""
                parts.append(f"{{rating: {other}, weight: {self.weight()}{curve}}}")
                chosen.append(other)
            blended = self.blended(f"{self.blend(is_score=False)}{self.missing(chosen)}")
            body = f"mix: [{', '.join(parts)}], {blended}{tail}"
            if not any(word in body for word in ("blend: sum", "blend: product", "scale:")):
                self.ratings.append(name)
        else:
            if rng.random() < 0.4:
                text = rng.choice(LOST)
            else:
                text = self.expression(measures, rng.randint(1, 3))
                if not set(measures) & set(text.replace("(", " ").replace(")", " ").replace(",", " ").split()):
                    text = f"{text} + {measures[0]}"
            scale = ", scale: {from: -100000, to: 100000}"
            if rng.random() < 0.2:
                text = self.with_none(text, measures)
            elif rng.random() < 0.4:
                text, scale = f"clamp({text}, {self.low}, {self.high})", ""
                self.ratings.append(name)
            body = f"value: '{text}'{scale}{self.missing_of_value()}{tail}"
        return f"  {name}: {{{body}{self.published()}}}"

    def published(self) -> str:
        """Places and bands of its own, as a third of the outputs have, and now and then limits of bands."""
        said = self.own_rules()
        if "bands: none" in said or self.publishing.random() < 0.7:
            return said
        names = re.findall(r"(o\d):", said) or ["b0"]
        found = []
        for _ in range(self.publishing.randint(1, 2)):
            name = self.publishing.choice([*self.units, *self.ratings, "fire"])
            number = decimal(self.publishing.choice(self.edges.get(name, [Fraction(self.low), Fraction(self.high)])))
            sign = self.publishing.choice(["<", "<=", ">", ">=", "!="])
            when = f"{name} {sign} {number}" if name != "fire" else f"fire {self.publishing.choice(['==', '!='])} ok"
            other = self.publishing.choice(list(self.units))
            joined = self.publishing.choice(
                ["", "", f" and {other} > 20", f" or {other} < 20", f" and k / {other} > 0.1"]
            )
            best = self.publishing.choice([*names, *names, "none"])
            found.append(f"{{when: '{when}{joined}', no_better_than: {best}}}")
        return f"{said}, band_limits: [{', '.join(found)}]"

    def own_rules(self) -> str:
        """Places and bands of its own."""
        rng, said = self.publishing, ""
        if rng.random() < 0.3:
            rules = {
                "on": rng.choice(["unrounded", "shown"]),
                "ties": rng.choice(["shared-best", "shared-mean", "dense"]),
                "best": rng.choice(["highest", "lowest"]),
            }
            kept = rng.sample(sorted(rules), rng.randint(1, 3))
            said += f", ranks: {{{', '.join(f'{rule}: {rules[rule]}' for rule in kept)}}}"
        if rng.random() < 0.3:
            low, high = Fraction(self.low), Fraction(self.high)
            edges = {low + (high - low) * Fraction(rng.randint(0, 20), 20) for _ in range(rng.randint(1, 4))}
            own = ", ".join(f"o{i}: {decimal(edge)}" for i, edge in enumerate(sorted(edges)))
            said += rng.choice([f", bands: {{{own}}}", f", bands: {{{own}}}", ", bands: none", ", bands: formula"])
        return said

    def missing_of_value(self) -> str:
        return ", missing: {otherwise: lowest}" if self.rng.random() < 0.2 else ""

    def weight(self) -> str:
        return self.rng.choice(["1", "1", "2", "3", "0.5", "0.35", "0.1", "0.2", decimal(self.figure(0.1, 3)), "0"])

    def score(self, name: str) -> str:
        rng = self.rng
        if not self.ratings:
            return f"  {name}: {{value: 'where(a > {self.number(['a'])}, {self.rating_figure()}, {self.rating_figure()})'{self.published()}}}"
        chosen = rng.sample(self.ratings, rng.randint(1, len(self.ratings)))
        if rng.random() < 0.3:
            text = f"clamp({self.of_ratings(chosen)} + 0 * {chosen[0]}, {self.low}, {self.high})"
            return f"  {name}: {{value: '{text}'{self.missing_of_value()}{self.limits(chosen, list(self.units))}{self.rounding()}{self.published()}}}"
        weights = [self.weight() for _ in chosen]
        if all(Fraction(weight) == 0 for weight in weights):
            weights[0] = "1"
        pairs = ", ".join(f"{part}: {weight}" for part, weight in zip(chosen, weights, strict=True))
        limits = self.limits(chosen, list(self.units))
        blended = f"{self.blend(is_score=True)}, weights: {{{pairs}}}{self.missing(chosen)}"
        return f"  {name}: {{{self.blended(blended)}{limits}{self.rounding()}{self.published()}}}"

    def of_ratings(self, ratings: Sequence[str]) -> str:
        """Arithmetic of ratings, some of it scaled to the others of the catalogue."""
        rng, of = self.rng, self.rng.choice(ratings)
        scaled = [f"{self.high} * {of} / maximum({of})", f"{of} - mean({of})", f"({of} - minimum({of})) / sd({of})"]
        return rng.choice(scaled) if rng.random() < 0.4 else self.expression(ratings, 2)

    def gate(self, number: int, measures: Sequence[str]) -> str:
        rng = self.rng
        name = rng.choice(measures)
        says = rng.choice(["withhold: over", "remark: seen", "withhold: over, remark: seen"])
        unknown = rng.choice(
            ["", ", unknown: withhold", ", missing: not assessed", ", missing: nobody knows, unknown: withhold"]
        )
        guard = ""
        way = rng.random()
        if way < 0.5:
            when = f"{name} {rng.choice(['<', '<=', '>', '>='])} {self.number([name])}"
            if rng.random() < 0.3:
                guard = f", guard: {rng.choice(['1', '2', '1.645'])} u, near: near it"
        elif way < 0.65:
            when = rng.choice(["fire == none", "fire != ok", "not fire == none"])
        elif way < 0.8 and self.ratings:
            of, sign = rng.choice([*self.ratings, "s0"]), rng.choice(["<", ">="])
            when = f"{of} {sign} {self.rating_figure() if rng.random() < 0.7 else f'median({of})'}"
        else:
            when = self.condition(measures, 2)
        only = ", scores: [s0]" if rng.random() < 0.2 else ""
        return f"  - {{name: g{number}, when: '{when}', {says}{unknown}{guard}{only}}}"

    # readings

    def catalogue(self, names: Sequence[str]) -> Written:
        products = tuple(f"p{i:02d}" for i in range(self.count))
        gaps = self.rng.choice([0.0, 0.03, 0.1])
        cells = {name: {product: self.cells(name, gaps) for product in products} for name in names}
        words = {"fire": {product: self.rng.choice(["ok", "ok", "none", ""]) for product in products}}
        return Written(products, cells, words)

    def cells(self, name: str, gaps: float) -> tuple[Cell, ...]:
        rng = self.rng
        chance = rng.random()
        if chance < gaps:
            return (Cell("", self.units[name], rng.choice([MISSING, MISSING, NOT_APPLICABLE])),)
        if name in self.floors and chance < gaps + 0.1:
            return (Cell(decimal(self.floors[name]), self.units[name], BELOW),)
        return self.reading(name, self.wanted(name))

    def wanted(self, name: str) -> Fraction:
        """What a reading should come to: an edge, something beside one, or anything."""
        rng, edge = self.rng, self.rng.choice(self.edges[name])
        chance = rng.random()
        if chance < 0.55:
            return edge
        if chance < 0.7:
            return edge + rng.choice([-1, 1]) * Fraction(1, 10 ** rng.randint(1, 8))
        if chance < 0.75:
            return rng.choice([Fraction(0), Fraction(1), LEAST, MOST])
        return self.figure(0, 70)

    def reading(self, name: str, target: Fraction) -> tuple[Cell, ...]:
        """Cells whose value by the measure's rule is the target: alone, in another unit, or as repeats with that mean."""
        rng = self.rng
        other = rng.choice(["", *UNITS[self.units[name]]])
        numbers = [target]
        if rng.random() < 0.5 and self.repeats[name] != "level mean" and LEAST + 3 < target < MOST - 3:
            count = rng.choice([2, 3, 3, 4, 5])
            shifts = [self.figure(-1.5, 1.5) for _ in range(count - 1)]
            numbers = [target + shift for shift in shifts] + [target - sum(shifts, Fraction(0))]
            if self.repeats[name] != "mean":
                numbers = [target - abs(shift) for shift in shifts[:1]] + [target + abs(shift) for shift in shifts[:1]]
                numbers += [target] * rng.choice([1, 2, 3])
            numbers = [min(max(number, LEAST), MOST) for number in numbers]
        elif rng.random() < 0.3:
            numbers = [target] * rng.choice([2, 3])
        return tuple(self.cell(name, number, other) for number in numbers)

    def cell(self, name: str, number: Fraction, unit: str) -> Cell:
        if unit:
            factor, shift = FACTORS[unit, self.units[name]]
            there = (number - shift) / factor
            if not is_decimal(there):
                there = Fraction(round(there * 1000), 1000)
            cell = Cell(decimal(there), unit)
            if LEAST <= converted(cell, self.units[name]) <= MOST:
                return cell
        return Cell(decimal(number), self.units[name])
