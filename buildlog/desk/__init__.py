"""What a person asks of a ledger or a shop, as objects: what stands behind the library's door.

May import: errors, findings, channels, units, records, store.ledger, store.verify, analysis.car,
analysis.pulls, analysis.workshop, analysis.margins.figures, analysis.margins, analysis.prediction,
analysis.answers, desk.snapshot, desk.questions, desk.acts, desk.give.
"""
