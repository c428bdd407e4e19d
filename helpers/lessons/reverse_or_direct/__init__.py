"""Lesson 05, reverse or direct."""
