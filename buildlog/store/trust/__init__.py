"""Keys and signatures: who signed what, and which keys count at which entry.

May import: errors, findings, records.toml, records, store.git.
"""
