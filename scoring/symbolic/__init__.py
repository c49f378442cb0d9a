"""Functions of our own for sympy, each with all its faces, and notation as a textbook sets it."""
