"""One machine that serves a class: pages without code, a desk with a record of its own for everybody, and limits.

Here: what the class server and its warm parent say to each other, over a socket that keeps messages apart.
"""

LONGEST_ORDER = 200_000  # bytes of one order, a JSON object: {"arguments", "env", "cwd", "folder"}; the answer is the number of the process
READY = b"ready"
