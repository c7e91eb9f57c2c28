"""The command line: one file a command; parse, one call, one report, exit status.

May import: errors, units, report, report.as_json, report.as_text, report.booklet,
desk.snapshot, desk.questions, desk.acts, desk.acts.dyno, desk.give, page.server.
"""
