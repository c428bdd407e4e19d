"""The nine lessons, a folder each: what is asked (questions), where it comes from (derivations), and the parts of the page (lesson)."""
