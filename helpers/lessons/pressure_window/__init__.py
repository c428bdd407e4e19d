"""Lesson 01, the pressure window."""
