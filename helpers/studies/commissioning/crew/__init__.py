"""What a crew takes along on a test day and what it brings back: procedure, sheets to fill in, filled sheets read, the report."""
