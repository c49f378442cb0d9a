"""Formulas as text, compiled to numbers: the form, the program, the kernel, the score table."""
