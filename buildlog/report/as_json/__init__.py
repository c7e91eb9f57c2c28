"""Results as JSON documents and CSV tables.

May import: errors, findings, units, records, store.ledger, store.verify, store.exchange,
analysis.car, analysis.pulls, analysis.workshop, analysis.margins.figures, analysis.margins,
analysis.prediction, analysis.answers, report.
"""
