"""A car's ledger: entries, names, rules, working files, plans, fingerprint.

May import: errors, findings, units, records.toml, records.fields, records, store.disk, store.git,
store.trust.
"""
