"""What weights are worth on the actual catalogue, beside what they say."""
