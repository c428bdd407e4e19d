"""Year after year: the tests of one stair beside each other: its building, what drifts, and the self-tests of every week between them."""
