"""The door for Python: a formula with its program, curves that draw themselves, what a notebook shows."""
