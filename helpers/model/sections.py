"""Linear equations of a tower, cut into sections: quick for a few conditions.

Storeys are cut into sections of a few storeys with one storey between each and the next. Inner storeys of all sections are solved at
once as small dense matrices, for any pressures of the storeys between; what is left is one small matrix of the storeys between. In
matrices: block elimination by the Schur complement. Small matrices also stay below the size at which the linear algebra library calls
for more than one processor, which costs more than it brings here and much more on a busy computer.

Paths run from unknown a to b, numbered space by space, storey by storey within; the number after the last unknown is known ground.
"""

import numpy as np

from helpers.model.elimination import LEAST_GROUND

__all__ = ["Sections"]


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
        sides = self._by_section(rights)
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

    def _by_section(self, values):
        """[spaces, storeys, conditions, n] -> [conditions, sections, storeys of each and the one between, spaces, n]."""
        by_storey = np.zeros((values.shape[2], self.count * (self.inner + 1), self.spaces, values.shape[3]))
        by_storey[:, : self.storeys] = values.transpose(2, 1, 0, 3)
        return by_storey.reshape(len(by_storey), self.count, self.inner + 1, *by_storey.shape[2:])

    def _by_space(self, values):
        by_storey = values.reshape(len(values), -1, self.spaces, values.shape[-1])[:, : self.storeys]
        return by_storey.transpose(2, 1, 0, 3)
