"""Every number, choice, expression and curve of a form by its address, and its unit."""
