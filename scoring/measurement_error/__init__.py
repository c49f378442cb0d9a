"""What is not known of the readings: the errors of those that were made, and those that were not made."""
