"""Figures, drawn on matplotlib `Figure` objects; readable in grey."""
