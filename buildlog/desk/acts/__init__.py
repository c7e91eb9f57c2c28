"""What is done: every write to a working file and every entry.

May import: errors, findings, physics.parts, units, records.toml, records.fields, records.car,
records, rawfiles, store.disk, store.git, store.trust, store.ledger, store.verify, store.exchange,
analysis.car, analysis.pulls, analysis.workshop, analysis.answers, desk.snapshot, desk.questions.
"""
