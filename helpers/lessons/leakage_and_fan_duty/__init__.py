"""Lesson 02, leakage, stack effect and fan duty."""
