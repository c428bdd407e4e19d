"""Pure functions on numbers and arrays, one physical idea a file. They import numpy, each other and the refusals of `require`."""
