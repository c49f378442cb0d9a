"""The methods appendix: one set of facts about a formula on a catalogue, and its renderings."""
