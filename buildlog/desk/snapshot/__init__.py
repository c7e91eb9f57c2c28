"""A ledger at one head in the terms of the analysis, and the settings of its user.

May import: errors, findings, units, records.toml, records.fields, records.car, records, store.disk,
store.trust, store.ledger, analysis.car, analysis.pulls.
"""
