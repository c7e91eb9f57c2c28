"""Keys and signatures: who signed what, and which keys count at which entry.

May import: errors, findings, programs, records.toml, records, store.git.
"""
