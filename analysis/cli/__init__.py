"""The command line: the one place that prints."""
