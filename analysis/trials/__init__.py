"""Scores under a setting of what varies."""
