"""What a person asks of a ledger or a shop, as objects: what stands behind the library's door.

May import: errors, findings, units, store.ledger, analysis.car, desk.snapshot, desk.questions,
desk.acts, desk.acts.dyno, desk.views, desk.give.
"""
