"""Examples worked by hand, one file a lesson: each ends on a figure that somebody else has published."""
