"""A stair's loop with one thing wrong: what it does, what each check on site shows of it, and what tells one fault from another."""
