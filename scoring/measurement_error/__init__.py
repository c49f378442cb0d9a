"""What the errors of readings are made of."""
