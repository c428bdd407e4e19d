"""The site file: a building, its fan, its transmitters and its loop, written by hand in TOML with a unit on every quantity.

schema says what a site is, file turns a text into one, or refuses it with every mistake at once, and turns it back into text; entries are
its keys as they are typed.
"""
