"""Two lines of one history joined field by field.

May import: errors, units, records.toml, records, store.git, store.trust.
"""
