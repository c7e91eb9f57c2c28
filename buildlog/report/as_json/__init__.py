"""Results as JSON documents and CSV tables.

May import: findings, units, records, store.ledger, analysis.car, analysis.pulls, analysis.workshop,
analysis.margins.figures, analysis.margins, analysis.prediction, analysis.answers, report.
"""
