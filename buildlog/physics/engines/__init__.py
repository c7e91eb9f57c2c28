"""The engine as a whole: cycle, losses, breathing, the predicted band and what results teach it.

May import: physics.numerics, physics.gases.
"""
