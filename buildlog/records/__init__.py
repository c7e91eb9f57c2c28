"""What a shop writes down: the car, its dyno sessions, checks, faults, fasteners."""
