"""Pure functions on numbers and arrays, one physical idea a file. They import numpy and each other, nothing else of ours."""
