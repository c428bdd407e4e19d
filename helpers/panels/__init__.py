"""Widgets and pictures: the only layer that imports ipywidgets or matplotlib."""
