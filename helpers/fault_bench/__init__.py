"""The fault bench: a loop with one hidden fault, checks that cost minutes, a judgement with a replay."""
