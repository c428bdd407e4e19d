"""Pages beside the lessons: the start, the design and its record, review, commissioning, a site of one's own, where the learner stands."""
