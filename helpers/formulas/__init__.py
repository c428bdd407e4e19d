"""Pure functions on numbers and arrays, one physical idea a file. They import numpy and nothing else of ours but `require`."""
