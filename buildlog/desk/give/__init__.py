"""What leaves: plots, booklet, handover. The only room of the desk that uses the reports.

May import: errors, findings, physics.engines, records.toml, records, store.disk, store.git,
store.trust, store.ledger, store.verify, store.exchange, analysis.car, analysis.pulls,
analysis.workshop, analysis.margins.figures, analysis.margins, analysis.prediction,
analysis.answers, report, report.as_text, report.pictures, report.booklet, desk.snapshot,
desk.questions.
"""
