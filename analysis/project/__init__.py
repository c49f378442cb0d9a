"""The project file of a folder: which formula, readings and study its commands mean, where nothing else is said."""

from analysis.project.nouns import NAME, Project
from analysis.project.reader import read_project
from analysis.project.reference import project_schema, project_section

__all__ = ["NAME", "Project", "project_schema", "project_section", "read_project"]
