"""Texts as they are read: bytes to text, YAML to nodes with their places, and values written back into a text."""
