"""That the laboratory's own reasons go out is said, with how many they are."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

SAID = "1 reason of the laboratory is published (`publish_reasons: yes`), in its own words"


def test_what_publishes_says_how_many_reasons_go_out(steelyard: Any, small: Path) -> None:
    """Nothing by default; of a catalogue with none, nothing either; and the page holds none, as it says."""
    formula, readings, page = small / "beds.yaml", small / "beds.csv", small / "page.html"

    def said() -> tuple[str, str, str]:
        for file in (page, small / "record.json"):
            file.unlink(missing_ok=True)
        asked = (
            ("check", formula, readings),
            ("record", formula, readings, "--out", small / "record.json", "--date", "2025-03-01"),
            ("explore", formula, readings, "--out", page),
        )
        check, record, explore = (steelyard(*one).stdout for one in asked)
        return check, record, explore

    assert not any("of the laboratory" in one for one in said())
    text = formula.read_text(encoding="utf-8")
    formula.write_text(text.replace("attributes:", "publish_reasons: yes\nattributes:"), encoding="utf-8")
    check, record, explore = said()
    assert f"{SAID}: explain, appendix and record hold it." in check
    assert f"{SAID}: the record holds it." in record
    assert "probe failed" in (small / "record.json").read_text(encoding="utf-8")
    assert f"{SAID}: explain, appendix and record hold it, and this page does not." in explore
    assert "probe failed" not in page.read_text(encoding="utf-8")
    document = json.loads(steelyard("check", formula, readings, "--json").stdout)
    assert document["reasons_published"] == 1
    readings.write_text(readings.read_text(encoding="utf-8").replace(": probe failed", ""), encoding="utf-8")
    assert not any("of the laboratory" in one for one in said())
