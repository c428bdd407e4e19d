"""Linear equations of a tower, solved storey by storey: cost grows with the storeys, not with their square.

The equations are those of a network of conductances g between unknowns, and from some of them to known ground:

    ground_a x_a + sum over ties g_ab (x_a - x_b) = right_a

One storey holds a few spaces (stair, lobby, lift shaft, floor). Within a storey every space may be tied to every other; between storeys
a shaft is tied to itself. An unknown is taken out by tying its neighbours to each other instead (the star of ties round it becomes a
mesh; in electricity: Kennelly 1899, Rosen 1924). That only ever adds and multiplies positive numbers, so that nothing is lost where a
wide-open door stands beside a hair crack, a million times tighter; a plain elimination would subtract the two.
Spaces without a vertical tie go first, all storeys in one stroke; then the shafts, from the bottom up, and back down for the answer.
Arrays are [storeys, conditions]: one numpy call works on all conditions.

For few conditions storeys are cut into sections with one storey between each and the next. Inner storeys of all sections are solved at
once as small dense matrices, for any pressures of the storeys between; what is left is one small matrix of the storeys between (block
elimination by the Schur complement). Small matrices also stay below the size at which the linear algebra library calls for more than one
processor, which costs more than it brings here and much more on a busy computer. Paths run from unknown a to b, numbered space by space,
storey by storey within; the number after the last unknown is known ground.
"""

import numpy as np

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


class Sections:
    """Where the paths of a tower enter the matrices of its sections."""

    def __init__(self, spaces, storeys, a, b):
        self.spaces, self.storeys = spaces, storeys
        self.inner = max(round(np.sqrt(storeys)), 1)  # storeys of a section, without the one between
        self.count = -(-storeys // (self.inner + 1))
        self.rows = self.inner * spaces
        self.inside = self.count * self.rows * (self.rows + 2 * spaces)  # numbers in the sections' matrices and their ties to both sides
        self.size = self.inside + self.count * spaces**2 + 1  # the last takes up what is not needed
        every = np.arange(spaces * self.count * (self.inner + 1))
        space, storey = np.divmod(np.append(np.arange(spaces * storeys), -1), storeys)
        ends = [np.where(end < spaces * storeys, storey[end] * spaces + space[end], -1) for end in (a, b)]
        rows, columns = (np.concatenate([*side, every]) for side in ((*ends, *ends), (*ends, *ends[::-1])))
        self.places = self._places(rows, columns)
        self.ground = np.full((len(every), 1), LEAST_GROUND)

    def solved(self, slope, rights):
        """Unknowns from conductances [paths, conditions]; rights and answer [spaces, storeys, conditions, right-hand sides]."""
        spaces, inner, between = self.spaces, self.inner, 2 * self.spaces
        matrices, ties, crossing = self._matrices(slope)
        # [spaces, storeys, conditions, n] -> [conditions, sections, storeys of each and the one between, spaces, n]
        by_storey = np.zeros((rights.shape[2], self.count * (self.inner + 1), self.spaces, rights.shape[3]))
        by_storey[:, : self.storeys] = rights.transpose(2, 1, 0, 3)
        sides = by_storey.reshape(len(by_storey), self.count, self.inner + 1, *by_storey.shape[2:])
        values, known = sides[:, :, :inner].reshape(*matrices.shape[:3], -1), sides[:, :, inner]
        found = np.linalg.solve(matrices, np.concatenate([ties, values], axis=-1))
        pull = ties.swapaxes(-1, -2) @ found
        whole, right = self._storeys_between(crossing, known, pull)
        at = np.linalg.solve(whole, right).reshape(len(right), self.count + 1, spaces, -1)
        beside = np.concatenate([at[:, :-1], at[:, 1:]], axis=2)
        inside = found[..., between:] - found[..., :between] @ beside
        inside = inside.reshape(*sides[:, :, :inner].shape)
        return self._by_space(np.concatenate([inside, at[:, 1:, None]], axis=2))

    def _storeys_between(self, crossing, known, pull):
        """Matrix and right-hand side of the storeys between, one more below the first section that nothing is tied to."""
        spaces, conditions, sides, unknowns = self.spaces, len(known), known.shape[-1], (self.count + 1) * self.spaces
        whole = np.zeros((conditions, self.count + 1, spaces, self.count + 1, spaces))
        right = np.zeros((conditions, self.count + 1, spaces, sides))
        own, upward, downward = (np.einsum("ciaib->ciab", part) for part in (whole, whole[:, :-1, :, 1:], whole[:, 1:, :, :-1]))
        below, above = slice(spaces), slice(spaces, 2 * spaces)
        own[:, 0] = np.eye(spaces)
        own[:, 1:] = crossing - pull[:, :, above, above]
        own[:, :-1] -= pull[:, :, below, below]
        upward -= pull[:, :, below, above]
        downward -= pull[:, :, above, below]
        right[:, 1:] = known - pull[:, :, above, 2 * spaces :]
        right[:, :-1] -= pull[:, :, below, 2 * spaces :]
        return whole.reshape(conditions, unknowns, unknowns), right.reshape(conditions, unknowns, sides)

    def _matrices(self, slope):
        """Matrices of the sections, their ties to the storeys between, and the matrices of those storeys; leading axis of conditions."""
        conditions = slope.shape[1]
        entries = np.concatenate([slope, slope, -slope, -slope, np.broadcast_to(self.ground, (len(self.ground), conditions))])
        places = self.places[:, None] + self.size * np.arange(conditions)
        summed = np.bincount(places.ravel(), entries.ravel(), conditions * self.size).reshape(conditions, self.size)
        inside = summed[:, : self.inside].reshape(conditions, self.count, self.rows, -1)
        crossing = summed[:, self.inside : -1].reshape(conditions, self.count, self.spaces, self.spaces)
        return inside[..., : self.rows], inside[..., self.rows :], crossing

    def _places(self, rows, columns):
        """Places of matrix entries, given by row and column storey by storey, in the flat array of all numbers."""
        length, last = self.spaces * (self.inner + 1), self.size - 1
        (section, row), (other, column) = np.divmod(rows, length), np.divmod(columns, length)
        into = column + self.spaces * ((column >= self.rows) & (section == other))  # ties go to the storey below, then the one above
        inside = (section * self.rows + row) * (self.rows + 2 * self.spaces) + into
        crossing = self.inside + (section * self.spaces + row - self.rows) * self.spaces + column - self.rows
        place = np.where(row < self.rows, inside, np.where(column < self.rows, last, crossing))
        return np.where((rows < 0) | (columns < 0), last, place)

    def _by_space(self, values):
        by_storey = values.reshape(len(values), -1, self.spaces, values.shape[-1])[:, : self.storeys]
        return by_storey.transpose(2, 1, 0, 3)
