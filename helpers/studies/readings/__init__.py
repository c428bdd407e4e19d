"""One reading from several: what each rule does to every door, and what to fall back on when a reading fails."""
