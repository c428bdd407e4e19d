"""What is built from the formulas: the site, the tower of spaces and leaks, the fan, the loop."""
