"""Pure formulas: SI floats and numpy arrays in, SI floats and arrays out; nothing of TOML, git or
the command line."""
