"""A file for each margin: its definition, what is asked, what is allowed, a worked example."""
