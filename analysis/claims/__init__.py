"""What is proved of a formula, what is refuted, and what its author may not have meant."""
