"""What stands beyond the states of the stair's fan: final exits that stand open, and the fan of a second shaft."""
