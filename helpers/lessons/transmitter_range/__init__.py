"""Lesson 03, the transmitter's range."""
