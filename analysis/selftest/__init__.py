"""Published cases worked again on the user's own machine: the shelf of formulas, and closed cases of the statistics."""
