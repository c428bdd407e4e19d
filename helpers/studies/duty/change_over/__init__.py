"""The change-over from one fan of a stair to its standby: reckoned with an output that is given, and played with the loop."""
