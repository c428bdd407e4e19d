"""Lesson 06, average, lowest or highest."""
