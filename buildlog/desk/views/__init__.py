"""What is answered, as objects: figures, arrays and rows, and how each shows itself.

May import: errors, findings, channels, units, records.car, records, store.ledger, store.verify,
analysis.car, analysis.pulls, analysis.workshop, analysis.margins.figures, analysis.margins,
analysis.prediction, analysis.answers, report, report.as_json, report.as_text, report.notebook,
desk.snapshot, desk.questions.
"""
