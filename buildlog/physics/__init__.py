"""Pure formulas: SI floats and numpy arrays in, SI floats and arrays out.

Nothing here knows of TOML, git, units as text or the command line.
"""
