"""The order in which ratings and scores need each other."""

from __future__ import annotations

from scoring.errors import FormulaError, Problem
from scoring.form import Form


def output_order(form: Form) -> tuple[str, ...]:
    """Output names such that each comes after those it needs; a circle is an error that names its members."""
    needs = {output.name: list(output.sources) for output in form.outputs}
    places = {output.name: output.place for output in form.outputs}
    done: dict[str, None] = {}
    for start in needs:
        trail: list[str] = []
        stack: list[tuple[str, int]] = [(start, 0)] if start not in done else []
        while stack:
            name, index = stack.pop()
            if index == 0:
                trail.append(name)
            wanted = [source for source in needs[name] if source in needs]
            if index == len(wanted):
                done[name] = None
                trail.pop()
                continue
            stack.append((name, index + 1))
            following = wanted[index]
            if following in trail:
                circle = " -> ".join([*trail[trail.index(following) :], following])
                expected = "outputs that do not need each other in a circle"
                problem = Problem(places[name], f"the circle {circle}", expected, "Break it at one of them.")
                raise FormulaError([problem])
            if following not in done:
                stack.append((following, 0))
    return tuple(done)
