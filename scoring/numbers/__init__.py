"""What is worked out with numbers alone: arrays, intervals, rounding, sums in one order, ranks."""
