"""What a class server and its warm parent say to each other, over a socket that keeps messages apart."""

__all__ = ["LONGEST_ORDER", "READY"]

LONGEST_ORDER = 200_000  # bytes of one order, a JSON object: {"arguments", "env", "cwd", "folder"}; the answer is the number of the process
READY = b"ready"
