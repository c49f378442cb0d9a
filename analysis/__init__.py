"""Studies, comparisons, publications and the command line, all on addresses and the compiled program."""
