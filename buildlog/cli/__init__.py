"""The command line: one file a command; parse, one call, one report, exit status.

May import everything.
"""
