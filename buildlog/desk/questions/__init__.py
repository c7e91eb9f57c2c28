"""What is asked: comparisons, predictions, limits, plans, everything checked, the shop.

May import: errors, findings, physics.numerics, physics.gases, units, records.toml, records.car,
records, rawfiles, store.disk, store.git, store.trust, store.ledger, store.verify, store.exchange,
analysis.car, analysis.pulls, analysis.workshop, analysis.margins.figures, analysis.margins,
analysis.prediction, analysis.answers, desk.snapshot.
"""
