"""Results as text for the terminal.

May import: errors, findings, channels, units, records, store.ledger, store.verify, store.exchange,
analysis.car, analysis.pulls, analysis.workshop, analysis.margins.figures, analysis.margins,
analysis.prediction, analysis.answers, report, report.as_json.
"""
