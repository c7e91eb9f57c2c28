"""The page: who may, what is cut, what is left in the files."""
