"""What a page is made of: controls, panels, verdicts, boxes for questions, sheets that are filled in."""
