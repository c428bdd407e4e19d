"""The exercises of each lesson, one file a lesson: functions that draw the numbers and set the question."""
