"""Whether readings, gauges and the building fitted to them are to be believed, and whose fault it may be where they are not."""
