"""One machine that serves a class: pages without code, a desk with a record of its own for everybody, and limits."""
