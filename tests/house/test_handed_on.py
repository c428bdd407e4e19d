"""No parameter goes through three layers untouched."""

from handed_on import Functions, sources

EXEMPT = {"system"}  # where it is still asked for it goes to the axis that ends at a round number, or to the file that is written


def test_no_parameter_goes_through_three_layers_untouched():
    chains = Functions(sources()).through_layers()
    assert [chain for chain in chains if chain[0][2] not in EXEMPT] == []


def test_a_parameter_that_is_only_handed_on_is_found():
    house = {
        "panels/a.py": "def shown(gap):\n    return made(1, gap)\n",
        "lessons/b.py": "def made(number, width):\n    return number * solved(w=width)\n",
        "model/c.py": "def solved(w):\n    return root(w)\n",
    }
    assert Functions(house).through_layers() == [
        (("panels/a.py", "shown", "gap"), ("lessons/b.py", "made", "width"), ("model/c.py", "solved", "w"))
    ]
    house["lessons/b.py"] = "def made(number, width):\n    return number * solved(w=2 * width)\n"
    assert Functions(house).through_layers() == []
