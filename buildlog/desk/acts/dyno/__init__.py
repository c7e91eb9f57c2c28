"""Sessions taken in: raw files understood, conditions asked for, logs laid over pulls.

May import: errors, findings, physics.gases, units, records.toml, records.car, records, rawfiles,
store.disk, store.git, store.ledger, analysis.car, analysis.pulls, desk.snapshot, desk.questions,
desk.acts.
"""
