"""in_copy.py needs mutmut, which the default tests do without."""

collect_ignore = ["in_copy.py"]
