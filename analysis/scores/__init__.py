"""The score table as a document and in pictures."""
