"""Files that are whole or as before, one writer at a time, the disposable index.

May import: errors.
"""
