"""How closely repeats agree."""
