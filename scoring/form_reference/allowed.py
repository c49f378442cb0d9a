"""What may stand at a key, in words, from its schema."""

from __future__ import annotations

import json

from scoring.declaration.kinds import SHARE, Schema
from scoring.form import DECLARED
from scoring.form_reference.text import anchor, code, listed
from scoring.recipe import DECLARED as OF_RECIPES

#: What a definition of the schema is called in a link, and the heading under which it stands.
LINKS = {found.name: (found.short or f"a {found.name}", found.title) for found in (*DECLARED, *OF_RECIPES)}
EXPRESSIONS = "Expressions"


def allowed(schema: Schema) -> str:
    """What may stand where a schema holds: `a number, 0 or more`."""
    if "$ref" in schema:
        short, title = LINKS.get(schema["$ref"].rsplit("/", 1)[-1], ("an expression", EXPRESSIONS))
        return f"[{schema.get('title') or short}](#{anchor(title)})"
    if "title" in schema:
        return str(schema["title"])
    if "anyOf" in schema:
        return listed([allowed(option) for option in schema["anyOf"]], "or")
    if "oneOf" in schema:
        return "one of the words below"
    if "const" in schema:
        return code(schema["const"])
    if "enum" in schema:
        return listed([code(str(word).lower() if isinstance(word, bool) else word) for word in schema["enum"]], "or")
    if schema.get("pattern") == SHARE["pattern"]:
        return "a share as `8%`"
    return _plain(schema)


def _plain(schema: Schema) -> str:
    if schema["type"] == "null":
        return "`null`"
    kinds = [schema["type"]] if isinstance(schema["type"], str) else schema["type"]
    if "string" in kinds:
        return "text"
    if kinds == ["boolean"]:
        return "`true` or `false`"
    if kinds[0] != "number":
        raise ValueError(f"no words for {schema}")
    number = _number(schema)
    return f"{number}, or `null`" if "null" in kinds else number


def _number(schema: Schema) -> str:
    least, most = schema.get("minimum"), schema.get("maximum")
    if "exclusiveMinimum" in schema:
        return f"a number above {schema['exclusiveMinimum']}"
    if least is None and most is None:
        return "a number"
    return f"a number, {least} or more" if most is None else f"a number from {least} to {most}"


def default_of(schema: Schema) -> str:
    """The default, as it is written; nothing where there is none, or where it is an empty list or `null`."""
    default = schema.get("default")
    if default is None or default == []:
        return ""
    text = f"{default:g}" if isinstance(default, float) else json.dumps(default, ensure_ascii=False)
    return code(text.replace('"', ""))


def options_of(schema: Schema) -> list[tuple[str, str]]:
    """The words that may stand, each with its meaning; none where the schema is no list of words."""
    options = schema.get("oneOf") or schema.get("items", {}).get("oneOf") or ()
    return [(option["const"], option["description"]) for option in options if "const" in option]
