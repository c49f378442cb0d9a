"""A first formula, written from a catalogue: what its columns say, what is guessed from them, and the text."""
