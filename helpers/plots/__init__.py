"""Pictures: from a plot, which is data, to an image that is kept alive."""
