"""Lesson 08, tuning and door events."""
