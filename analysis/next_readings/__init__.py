"""What to read again: which product and measure, read how many times more, would most likely settle a question of order."""
