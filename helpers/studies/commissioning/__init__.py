"""The day on site: what displays must show, the fewest signals that prove what was entered, the doors one by one, the spreadsheets."""
