"""What teaching is made of: exercises, predictions, stories, derivations, the plan, seeds and keys, the learner's record. No widget."""
