"""Air at rest: a tower's spaces, openings and fan as one network, solved for many conditions, and the speed that holds a reading."""
