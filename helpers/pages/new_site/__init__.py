"""A site of one's own: questions that are answered on a page, a draft that is kept meanwhile, a file that is written."""
