"""Scores that stand on a missing part: the places that its reading may lead to, whatever it is, and where they change."""
