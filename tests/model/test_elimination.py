import numpy as np
import pytest

from helpers.model.air.elimination import solve_tower


def _random_tower(rng, spaces, shafts, storeys, conditions):
    def some(*shape):
        return 10 ** rng.uniform(-6, 0, shape)

    ties = {(a, b): some(storeys, conditions) for a in range(spaces) for b in range(a + 1, spaces)}
    vertical = {a: some(storeys - 1, conditions) for a in shafts}
    ground = [some(storeys, conditions) for _ in range(spaces)]
    rights = [[rng.normal(size=(storeys, conditions)) for _ in range(spaces)] for _ in range(2)]
    return ground, ties, vertical, rights


def _by_dense_matrix(ground, ties, vertical, right, condition):
    spaces, storeys = len(ground), len(ground[0])
    place = np.arange(spaces * storeys).reshape(spaces, storeys)
    pairs = [(place[a, i], place[b, i], tie[i, condition]) for (a, b), tie in ties.items() for i in range(storeys)]
    pairs += [(place[a, i], place[a, i + 1], tie[i, condition]) for a, tie in vertical.items() for i in range(storeys - 1)]
    matrix = np.diag(np.concatenate([g[:, condition] for g in ground]))
    for i, j, conductance in pairs:
        matrix[[i, j], [i, j]] += conductance
        matrix[[i, j], [j, i]] -= conductance
    return np.linalg.solve(matrix, np.concatenate([r[:, condition] for r in right]))


@pytest.mark.parametrize(
    ("spaces", "shafts", "storeys"),
    [(2, [0], 6), (2, [0, 1], 5), (3, [0, 2], 6), (4, [0, 1, 3], 7), (3, [], 1), (2, [0, 1], 1), (1, [0], 9)],
)
def test_storey_by_storey_gives_what_the_whole_matrix_gives(spaces, shafts, storeys):
    ground, ties, vertical, rights = _random_tower(np.random.default_rng(storeys), spaces, shafts, storeys, 4)
    expected = [[_by_dense_matrix(ground, ties, vertical, right, c) for right in rights] for c in range(4)]
    found = solve_tower([g.copy() for g in ground], ties, vertical, [[r.copy() for r in right] for right in rights])
    for condition in range(4):
        for right, answer in zip(expected[condition], found, strict=True):
            assert np.concatenate([space[:, condition] for space in answer]) == pytest.approx(
                right, rel=1e-7, abs=1e-7 * np.abs(right).max()
            )


def test_a_hair_crack_beside_an_open_door_is_not_lost_in_rounding():
    """All air entering a room must leave by its crack, though a door a hundred million million times as wide stands beside it."""
    crack, door = 1e-9, 1e5
    ground = [np.full((1, 1), 0.0), np.full((1, 1), crack)]
    pressure = solve_tower(ground, {(0, 1): np.full((1, 1), door)}, {}, [[np.full((1, 1), 1e-6), np.zeros((1, 1))]])[0]
    assert pressure[1][0, 0] * crack == pytest.approx(1e-6, rel=1e-12)
