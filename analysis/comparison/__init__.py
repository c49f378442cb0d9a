"""Who moves from one formula or catalogue to another, why, and whether the bench can tell."""
