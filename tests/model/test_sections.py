import numpy as np
import pytest

from helpers.model.air.elimination import Sections


def _paths(spaces, storeys):
    """From every space outdoors, to every other space of its storey and to the storey above."""
    number, outdoors = np.arange(spaces * storeys).reshape(spaces, storeys), spaces * storeys
    pairs = [(i, outdoors) for i in number.ravel()]
    pairs += [(number[i, s], number[j, s]) for i in range(spaces) for j in range(i) for s in range(storeys)]
    pairs += [(number[i, s], number[i, s + 1]) for i in range(spaces) for s in range(storeys - 1)]
    return np.array(pairs).T


@pytest.mark.parametrize(("spaces", "storeys"), [(1, 1), (3, 1), (1, 2), (2, 5), (3, 13), (2, 14), (4, 42)])
def test_sections_give_what_the_whole_matrix_gives(spaces, storeys):
    rng, (a, b) = np.random.default_rng(storeys), _paths(spaces, storeys)
    slope, rights = 10 ** rng.uniform(-6, 0, (len(a), 3)), rng.normal(size=(spaces, storeys, 3, 2))
    found = Sections(spaces, storeys, a, b).solved(slope, rights)
    unknowns = spaces * storeys
    for condition in range(3):
        matrix = np.zeros((unknowns + 1, unknowns + 1))
        for i, j, conductance in zip(a, b, slope[:, condition], strict=True):
            matrix[[i, j], [i, j]] += conductance
            matrix[[i, j], [j, i]] -= conductance
        whole = np.linalg.solve(matrix[:-1, :-1], rights[:, :, condition].reshape(unknowns, 2))
        # A ten-million-millionth of ground on every space is all that sets them apart.
        assert found[:, :, condition].reshape(unknowns, 2) == pytest.approx(whole, rel=1e-6, abs=1e-6 * np.abs(whole).max())
