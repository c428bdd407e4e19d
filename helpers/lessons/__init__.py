"""What is taught and practised: exercises, predictions, derivations, worked examples, the learner's record. No widgets here."""
