"""A manifest that is not as it was written is refused in one line, whatever stands in it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from analysis.outputs.manifest import KIND, NAME, manifest_bytes, read_manifest, written
from scoring.errors import FileError

LINES = [written("a.csv", "score", b"1\n"), written("b.csv", "score", b"2\n")]
SOUND: dict[str, Any] = json.loads(manifest_bytes(LINES))


def test_what_is_written_is_read(tmp_path: Path) -> None:
    """File by file."""
    (tmp_path / NAME).write_bytes(manifest_bytes(LINES))
    assert read_manifest(tmp_path) == tuple(LINES)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (json.dumps(SOUND | {"format": True}), "at manifest.format: true; expected a finite number"),
        (json.dumps(SOUND | {"format": float("nan")}), "at manifest.format: NaN; expected a finite number"),
        (json.dumps(SOUND | {"format": 10**400}), "a manifest of format 1000"),
        (json.dumps(SOUND | {"manifest": "mine"}), f'at manifest.manifest: "mine"; expected one of {KIND}'),
        (json.dumps(SOUND | {"files": {}}), "at manifest.files: an object; expected a list"),
        (
            json.dumps(SOUND | {"files": [{}]}),
            "at manifest.files.1: the key `name` is missing; expected the keys name, by",
        ),
        (json.dumps(SOUND | {"note": 1}), "at manifest: the unknown key `note`; expected the keys manifest, format"),
        (json.dumps([SOUND]), "at manifest: a list; expected an object"),
        ("[" * 100 + "]" * 100, "a manifest that cannot be read"),
        ("[" * 100_000, "a manifest that cannot be read"),
        ("{", "a manifest that cannot be read (it is no JSON)"),
    ],
    ids=["true", "nan", "huge", "kind", "object", "keys", "unknown", "list", "deep", "deeper", "no json"],
)
def test_another_shape_is_refused_at_its_place(text: str, says: str, tmp_path: Path) -> None:
    """Types, keys, and what Python's reader of JSON takes though it is none."""
    (tmp_path / NAME).write_text(text, encoding="utf-8")
    with pytest.raises(FileError) as caught:
        read_manifest(tmp_path)
    (said,) = [str(problem) for problem in caught.value.problems]
    assert says in said
    assert len(said) < 500
