"""Lesson 07, where the transmitters go."""
