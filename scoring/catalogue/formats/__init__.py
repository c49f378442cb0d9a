"""Formats of table files: each turns bytes into grids, one a sheet, by a module of its own."""
