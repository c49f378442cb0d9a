"""Readings in, values out: what is missing, gates, the score table and its uncertainty."""
