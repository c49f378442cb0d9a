"""What differs between two formulas, in words and by address."""
