"""The papers of a job, all of one site file: what is bought, wired, programmed and handed over, in the words and figures of its record."""
