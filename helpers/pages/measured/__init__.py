"""Pages for what was measured: the building as its test day found it, trend logs."""
