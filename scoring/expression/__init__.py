"""Written expressions, through an allow-list to a tree of terms."""

from scoring.expression.parsing import parse_expression
from scoring.expression.tokens import LARGEST_NUMBER, LONGEST_NUMBER, NUMBER
from scoring.expression.vocabulary import FUNCTIONS, KNOWN_FUNCTIONS, STATISTICS

__all__ = [
    "FUNCTIONS",
    "KNOWN_FUNCTIONS",
    "LARGEST_NUMBER",
    "LONGEST_NUMBER",
    "NUMBER",
    "STATISTICS",
    "parse_expression",
]
