"""Linear equations of a tower, solved storey by storey: cost grows with the storeys, not with their square.

The equations are those of a network of conductances g between unknowns, and from some of them to known ground:

    ground_a x_a + sum over ties g_ab (x_a - x_b) = right_a

One storey holds a few spaces (stair, lobby, lift shaft, floor). Within a storey every space may be tied to every other; between storeys
a shaft is tied to itself. An unknown is taken out by tying its neighbours to each other instead (the star of ties round it becomes a
mesh; in electricity: Kennelly 1899, Rosen 1924). That only ever adds and multiplies positive numbers, so that nothing is lost where a
wide-open door stands beside a hair crack, a million times tighter; a plain elimination would subtract the two.

Spaces without a vertical tie go first, all storeys in one stroke; then the shafts, from the bottom up, and back down for the answer.
Arrays are [storeys, conditions]: one numpy call works on all conditions.
"""

import numpy as np

__all__ = ["LEAST_GROUND", "solve_tower"]

LEAST_GROUND = 1e-13  # kg/(s Pa): keeps a space that has no opening at all (a lobby on a storey without lobbies) at zero pressure


def solve_tower(ground, ties, vertical, rights):
    """Solve the tower's linear equations for one or more right-hand sides.

    ground: list over spaces of [storeys, conditions], conductance of each space to known pressures, at least one above zero.
    ties: dict (a, b) -> [storeys, conditions], conductance between two spaces of one storey.
    vertical: dict a -> [storeys - 1, conditions], conductance between storey i and i + 1 of space a.
    rights: list over right-hand sides, each a list over spaces of [storeys, conditions]. `ground` and `rights` are used up.
    Returns the unknowns in the shape of `rights`.
    """
    ties = dict(ties)
    shafts = sorted(vertical) or [0]
    rooms = [a for a in range(len(ground)) if a not in shafts]
    removed = [_take_out(a, ground, ties, rights) for a in rooms]
    if len(shafts) == 1:
        _one_shaft(shafts[0], ground, vertical, rights)
    else:
        _several_shafts(shafts, ground, ties, vertical, rights)
    for space, inverse, neighbours in reversed(removed):
        for right in rights:
            for other, tie in neighbours.items():
                right[space] += tie * right[other]
            right[space] *= inverse
    return rights


def _take_out(space, ground, ties, rights):
    """Take out a space that has no vertical tie, on all storeys; give back what finds its value again later."""
    neighbours = {}
    for pair in [p for p in ties if space in p]:
        neighbours[pair[0] if pair[1] == space else pair[1]] = ties.pop(pair)
    inverse = 1.0 / (ground[space] + sum(neighbours.values()))
    for other, tie in neighbours.items():
        share = tie * inverse
        ground[other] += share * ground[space]
        for right in rights:
            right[other] += share * right[space]
        for third, tie_third in neighbours.items():
            if third > other:
                ties[other, third] = ties.get((other, third), 0.0) + share * tie_third
    return space, inverse, neighbours


def _one_shaft(space, ground, vertical, rights):
    """The usual tower, one shaft."""
    ground, up = ground[space], vertical.get(space)
    storeys = len(ground)
    sides = [right[space] for right in rights]
    whole = ground.copy()
    for i in range(storeys - 1):
        whole[i] += up[i]
        share = up[i] / whole[i]
        ground[i + 1] += share * ground[i]
        whole[i + 1] = ground[i + 1]
        for side in sides:
            side[i + 1] += share * side[i]
    for side in sides:
        side[-1] /= whole[-1]
        for i in range(storeys - 2, -1, -1):
            side[i] += up[i] * side[i + 1]
            side[i] /= whole[i]


def _several_shafts(shafts, ground, ties, vertical, rights):
    """Two or more shafts side by side. In view at a time: the shafts of one storey and of the next, [2 shafts, conditions]."""
    count, (storeys, conditions) = len(shafts), ground[shafts[0]].shape
    grounds = np.stack([ground[s] for s in shafts], axis=1)
    sides = [np.stack([right[s] for s in shafts], axis=1) for right in rights]
    beside = np.zeros((storeys, count, count, conditions), grounds.dtype)
    for a in range(count):
        for b in range(a + 1, count):
            beside[:, a, b] = beside[:, b, a] = ties.get((shafts[a], shafts[b]), 0.0)
    removed = []
    for i in range(storeys):
        view = _in_view(beside[i], [vertical[s][i] for s in shafts] if i < storeys - 1 else [])
        to_ground, *values = (array[i : i + 2].reshape(-1, conditions) for array in (grounds, *sides))
        removed.append([_take_out_of_view(p, view, to_ground, values) for p in range(count)])
        if i < storeys - 1:
            beside[i + 1] += view[count:, count:]
    for right, side in zip(rights, sides, strict=True):
        _back_down(side, removed)
        for a, s in enumerate(shafts):
            right[s][...] = side[:, a]


def _in_view(beside, upward):
    """Ties between the shafts of one storey and, by their ties `upward`, those of the next; the last storey has none."""
    count = len(beside)
    view = np.zeros((count + len(upward), count + len(upward), *beside.shape[2:]), beside.dtype)
    view[:count, :count] = beside
    for a, tie in enumerate(upward):
        view[a, count + a] = view[count + a, a] = tie
    return view


def _back_down(side, removed):
    """From right-hand sides to the answer, from the last unknown that was taken out to the first."""
    for i in range(len(removed) - 1, -1, -1):
        values = side[i : i + 2].reshape(-1, side.shape[-1])
        for p in range(len(removed[i]) - 1, -1, -1):
            share, inverse = removed[i][p]
            values[p] *= inverse
            values[p] += (share * values[p + 1 :]).sum(axis=0)


def _take_out_of_view(p, view, to_ground, values):
    """Take out the unknown p of those in view, the ones before it being gone; give back its ties' shares and 1 over all its conductance.

    Only what lies beyond p is kept up to date, and of that not the diagonal, which nobody reads: nothing is tied to itself.
    """
    ties = view[p, p + 1 :]
    inverse = 1.0 / (to_ground[p] + ties.sum(axis=0))
    share = ties * inverse
    to_ground[p + 1 :] += share * to_ground[p]
    for value in values:
        value[p + 1 :] += share * value[p]
    view[p + 1 :, p + 1 :] += share[:, None] * ties
    return share, inverse
