"""Linear equations of a tower, solved storey by storey: cost grows with the storeys, not with their square.

One storey holds a few spaces (stair, lobby, lift shaft, floor). Within a storey every space may be tied to every other; between
storeys only a shaft is tied to itself. So the matrix is block-tridiagonal, symmetric, and its diagonal outweighs the rest (each leak
adds as much to the diagonal as it takes from the sides), which is why no pivoting is needed. Spaces without a vertical tie are taken
out first, for all storeys in one stroke; what is left goes up the storeys once and down once.

Arrays are [storeys, conditions]: one numpy call works on all conditions of a storey.
"""

import numpy as np

__all__ = ["solve_tower"]


def solve_tower(diagonal, ties, vertical, rights):
    """Solve the tower's linear equations for one or more right-hand sides.

    diagonal: list over spaces of [storeys, conditions], sums of conductances of each space.
    ties: dict (a, b) with a < b -> [storeys, conditions], conductance between two spaces of one storey (entered as -g).
    vertical: dict a -> [storeys - 1, conditions], conductance between storey i and i + 1 of space a (entered as -g).
    rights: list over right-hand sides, each a list over spaces of [storeys, conditions]; both lists of arrays are used up.
    Returns the unknowns in the shape of `rights`.
    """
    ties = dict(ties)
    shafts = sorted(vertical) or [0]
    rooms = [a for a in range(len(diagonal)) if a not in shafts]
    removed = [_take_out(a, diagonal, ties, rights) for a in rooms]
    if len(shafts) == 1:
        _one_shaft(shafts[0], diagonal[shafts[0]], vertical.get(shafts[0]), rights)
    else:
        _several_shafts(shafts, diagonal, ties, vertical, rights)
    for space, inverse, neighbours in reversed(removed):
        for right in rights:
            for other, tie in neighbours.items():
                right[space] += tie * right[other]
            right[space] *= inverse
    return rights


def _take_out(space, diagonal, ties, rights):
    """Eliminate a space that has no vertical tie; give back what finds its value again later."""
    neighbours = {}
    for pair in [p for p in ties if space in p]:
        neighbours[pair[0] if pair[1] == space else pair[1]] = ties.pop(pair)
    inverse = 1.0 / diagonal[space]
    for other, tie in neighbours.items():
        share = tie * inverse
        diagonal[other] = diagonal[other] - share * tie
        for right in rights:
            right[other] += share * right[space]
        for third, tie_third in neighbours.items():
            if third > other:
                ties[other, third] = ties.get((other, third), 0.0) + share * tie_third
    return space, inverse, neighbours


def _one_shaft(space, diagonal, vertical, rights):
    """The usual tower, one shaft: a plain tridiagonal sweep."""
    storeys = len(diagonal)
    inverse = np.empty_like(diagonal)
    inverse[0] = 1.0 / diagonal[0]
    for i in range(1, storeys):
        carried = vertical[i - 1] * inverse[i - 1]
        np.divide(1.0, diagonal[i] - carried * vertical[i - 1], out=inverse[i])
        for right in rights:
            right[space][i] += carried * right[space][i - 1]
    for right in rights:
        values = right[space]
        values[-1] *= inverse[-1]
        for i in range(storeys - 2, -1, -1):
            values[i] += vertical[i] * values[i + 1]
            values[i] *= inverse[i]


def _several_shafts(shafts, diagonal, ties, vertical, rights):
    """Two or more shafts side by side: the same sweep with small blocks, unknowns of one storey at a time."""
    count, storeys = len(shafts), len(diagonal[shafts[0]])
    inverses = []
    for i in range(storeys):
        block = [[None] * count for _ in range(count)]
        for a in range(count):
            block[a][a] = diagonal[shafts[a]][i]
            for b in range(a + 1, count):
                tie = ties.get((shafts[a], shafts[b]), 0.0)
                block[a][b] = block[b][a] = -tie[i] if np.ndim(tie) else np.zeros_like(block[a][a])
        if i:
            below = [vertical[s][i - 1] for s in shafts]
            for a in range(count):
                for b in range(count):
                    block[a][b] = block[a][b] - below[a] * inverses[-1][a][b] * below[b]
            for right in rights:
                carried = _times(inverses[-1], [right[s][i - 1] for s in shafts])
                for a, s in enumerate(shafts):
                    right[s][i] += below[a] * carried[a]
        inverses.append(_inverse(block))
    for right in rights:
        for i in range(storeys - 1, -1, -1):
            if i < storeys - 1:
                for s in shafts:
                    right[s][i] += vertical[s][i] * right[s][i + 1]
            for s, value in zip(shafts, _times(inverses[i], [right[s][i] for s in shafts]), strict=True):
                right[s][i] = value


def _times(block, vector):
    return [sum(row[b] * vector[b] for b in range(len(vector))) for row in block]


def _inverse(block):
    """Inverse of a small block of arrays by Gauss-Jordan without pivoting (the diagonal outweighs the rest)."""
    size = len(block)
    work = [list(row) for row in block]
    for p in range(size):
        pivot = 1.0 / work[p][p]
        work[p] = [value * pivot for value in work[p]]
        work[p][p] = pivot
        for r in range(size):
            if r != p:
                factor = work[r][p]
                work[r] = [value - factor * work[p][c] for c, value in enumerate(work[r])]
                work[r][p] = -factor * pivot
    return work
