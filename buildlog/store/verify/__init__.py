"""Is a ledger what it was: objects, chain, rules, merges, evidence, signatures.

May import: errors, findings, programs, records.toml, records, store.disk, store.git, store.trust,
store.ledger, store.join.
"""
