"""What each lesson asks before the picture, one file a lesson, and what the model says to it."""
