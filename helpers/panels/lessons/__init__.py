"""The parts of each lesson's page, one file a lesson: what to predict, the panel, the derivation, the worked example, the exercises."""
