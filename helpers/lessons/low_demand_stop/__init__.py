"""Lesson 09, low-demand stop and sleep thresholds."""
