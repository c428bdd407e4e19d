"""The settings schedule of a stair: what to enter, read back from somebody else's list, and where the two differ."""
