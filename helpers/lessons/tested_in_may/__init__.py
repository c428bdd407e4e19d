"""Lesson 09b, tested in May, good in January?"""
