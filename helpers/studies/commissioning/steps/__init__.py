"""The steps of a test day as they are drafted: what a step is, those at the doors, those at the plant, and what of the plant is tried."""
