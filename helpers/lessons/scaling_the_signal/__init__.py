"""Lesson 04, scaling the signal."""
