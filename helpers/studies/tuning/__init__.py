"""Tuning of a stair's loop: the building's own answer, the box it is tried in, the door tests, what was found and what helps."""
