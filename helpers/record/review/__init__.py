"""Review of somebody else's strategy: kinds of findings by subject, and the benches of stairs and other plants that they look on."""
