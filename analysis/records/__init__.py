"""A frozen publication, its corrections, and what has drifted from it."""
