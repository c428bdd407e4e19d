"""What a picture shows, found by the name of a layer."""


def layers(plot, label=None):
    """Layers of a plot that bear a label (None: all)."""
    return [layer for axes in plot.axes for layer in axes.layers if label is None or getattr(layer, "label", "") == label]


def drawn(picture, label):
    """matplotlib's artists of the layers that bore a label, or of words that said it, when the picture was drawn."""
    places = [place for drawing in picture.drawings for place in drawing.places]
    pairs = [pair for place in places for pair in zip(place.drawn, place.declared.layers, strict=True)]
    return [one.artist for one, layer in pairs if label in (getattr(layer, "label", None), getattr(layer, "text", None))]
