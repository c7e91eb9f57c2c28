"""Do the tests notice? Faults planted by hand, and mutants made by mutmut; both run by hand."""
