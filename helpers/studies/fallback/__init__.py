"""Failed, frozen and disagreeing readings of a stair: what each way of falling back does at the doors, and which alarms tell of it."""

from helpers.studies.fallback.study import fallback_study

__all__ = ["fallback_study"]
