"""What is asked: comparisons, predictions, limits, plans, everything checked, the shop.

May import: errors, findings, physics.numerics, records.toml, records, store.disk, store.git,
store.trust, store.ledger, store.exchange, analysis.car, analysis.pulls, analysis.workshop,
analysis.margins, analysis.prediction, analysis.answers, report, report.as_text, report.pictures,
desk.snapshot, desk.acts.
"""
