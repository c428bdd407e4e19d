"""For whoever teaches: sets and papers of a class, its table, what to teach again, the desk, the projector."""
