"""The one reader and editor of TOML, and which characters may enter a ledger.

May import: errors.
"""
