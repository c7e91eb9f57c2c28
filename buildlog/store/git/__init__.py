"""Objects, messages, the index, digests and limits: git's own things, and the only door to dulwich.

May import: errors, records.toml, store.disk.
"""
