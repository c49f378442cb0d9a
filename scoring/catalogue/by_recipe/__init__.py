"""A recipe applied: from the files that it names to a catalogue."""
