"""Questions asked of the model: pressure window, fan duty, range, combining, injection table, design record."""
