"""What the review of a strategy looks for, by subject, and the benches of stairs and other plants that it looks on."""
