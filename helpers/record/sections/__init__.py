"""Sections of the design record: figures, findings, tables and plots of each subject."""
