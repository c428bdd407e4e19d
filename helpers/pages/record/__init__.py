"""The record of a site and the papers of its job, on a page."""
