"""What goes between copies and owners: sync, bundles, packages, photos, all ledgers of a shop.

May import: errors, findings, records, store.disk, store.git, store.trust, store.ledger,
store.join, store.verify.
"""
