"""A second pressurised shaft beside the stair: both fans at rest, and in time with the stair's loop."""
