"""The project: every key declared with what it means. Files in it lie where they do from the project file's own folder."""

from __future__ import annotations

from collections.abc import Mapping

from scoring.declaration import Declaration, key, kinds, noun

#: What a project file is called in the folder that it is of.
NAME = "steelyard.yaml"

_FILE = kinds.Text(fewest=1)


@noun
class Project:
    """What commands take that are not told otherwise; an empty text where the file does not say."""

    name: str = key(
        _FILE, "The project's name; the key marks the file.", "project: beds", name="project", required=True
    )
    formula: str = key(_FILE, "The formula file.", "formula: guest-bed.yaml")
    readings: str = key(
        _FILE, "The catalogue: a table file, a folder, or a recipe of readings.", "readings: readings.yaml"
    )
    study: str = key(
        _FILE,
        "What varies and how, for the commands that take `--study`. It holds for the project's own formula alone.",
        "study: study.yaml",
    )
    editions: Mapping[str, str] = key(
        kinds.Named(_FILE, "formula files by name", any_text=True),
        "Other editions of the formula: a name, and its formula file. A name may stand wherever a command takes a formula.",
        'editions: {"2025": 2025/guest-bed.yaml}',
    )
    out: str = key(
        _FILE,
        "The folder of what a command must write: `appendix` makes `appendix` in it, `explore` makes `explore.html`, `record` "
        "makes `record-DATE.json`. What a command prints is written only where `--out` says.",
        "out: published",
    )
    source: str
    folder: str


PROJECT = Declaration(
    Project,
    "project",
    called="the project",
    short="projects",
    title="Projects",
    lead="",
)
