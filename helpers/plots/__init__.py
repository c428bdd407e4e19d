"""Pictures: from data ready to draw to an image that is kept alive."""
