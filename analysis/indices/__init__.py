"""Which argument moves a score, a place, a winner."""
