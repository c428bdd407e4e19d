"""Only this: an editable install (setuptools up to 84) leaves out data files, because it asks for them under a name that is not there."""

from setuptools import Distribution, setup

Distribution.has_data = Distribution.has_data_files  # pyproject.toml says which
setup()
