"""The live page: one formula and one catalogue in a file that re-ranks as any address is moved."""
