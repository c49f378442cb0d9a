"""A form compiled: sympy steps, numpy kernels, JavaScript and typeset formulas from the same steps."""
