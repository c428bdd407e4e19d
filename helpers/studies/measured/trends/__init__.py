"""Trend logs of a pressure loop: read, described, their step tests fitted, settings from what was found, and why a loop hunts."""
