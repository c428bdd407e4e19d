"""One class cannot take the machine down: how many pages may be open, of one desk and of all, and how little memory is left."""

import asyncio
from types import SimpleNamespace

import pytest
from tornado.web import HTTPError

from helpers.serving import warm_kernels
from helpers.serving.warm_kernels import DESK, ClassKernels, memory_left_mb


@pytest.fixture
def kernels(tmp_path):
    """A class with two pages of one desk, each with somebody at it."""
    kernels = ClassKernels(most_pages=3, most_pages_a_desk=2)
    DESK.set(SimpleNamespace(folder=tmp_path / "ada"))
    for number in ("one", "two"):
        kernels._kernels[number] = SimpleNamespace()
        kernels._of[number], kernels._kernel_connections[number] = tmp_path / "ada", 1
    yield kernels
    kernels._kernels.clear()


def refusal(kernels):
    with pytest.raises(HTTPError) as refused:
        asyncio.run(kernels.start_kernel(kernel_name="none of this name"))
    return refused.value.log_message


def test_a_desk_with_all_its_pages_open_is_told_to_close_one(kernels):
    assert refusal(kernels) == "You have 2 pages open, as many as one desk may have. Close one and load this one again."


def test_a_full_class_is_told_to_wait(kernels, tmp_path):
    kernels.most_pages = 2
    DESK.set(SimpleNamespace(folder=tmp_path / "bob"))
    assert refusal(kernels).startswith("This machine has no room for another page just now. Wait a minute")


@pytest.mark.parametrize("left_kb", [599 * 1024, 0])
def test_a_machine_short_of_memory_opens_no_page(kernels, tmp_path, monkeypatch, left_kb):
    DESK.set(SimpleNamespace(folder=tmp_path / "bob"))
    (tmp_path / "meminfo").write_text(f"MemTotal: 8000000 kB\nMemAvailable: {left_kb} kB\n")
    monkeypatch.setattr(warm_kernels, "MEMORY", tmp_path / "meminfo")
    assert memory_left_mb() == left_kb / 1024
    assert refusal(kernels).startswith("This machine has no room for another page just now")


def test_a_machine_that_does_not_say_what_is_left_is_not_called_full(tmp_path, monkeypatch):
    monkeypatch.setattr(warm_kernels, "MEMORY", tmp_path / "nothing")
    assert memory_left_mb() == float("inf")


@pytest.mark.parametrize(("sizes_mb", "ended"), [((900, 800), ["one"]), ((700, 600), [])])
def test_a_desk_that_takes_the_memory_of_the_machine_loses_its_largest_page(kernels, tmp_path, monkeypatch, sizes_mb, ended):
    """And nobody else does, nor a desk whose pages are as large as lessons are."""
    sizes, closed = dict(zip((1, 2, 3), (*sizes_mb, 850), strict=True)), []
    kernels._kernels["of bob"], kernels._of["of bob"], kernels._kernel_connections["of bob"] = SimpleNamespace(), tmp_path / "bob", 1
    for pid, number in enumerate(("one", "two", "of bob"), 1):
        kernels._kernels[number].provisioner = SimpleNamespace(pid=pid)
    monkeypatch.setattr(warm_kernels, "_own_mb", sizes.get)
    monkeypatch.setattr(warm_kernels, "memory_left_mb", lambda: 200.0)

    async def shutdown(self, number, now):
        closed.append(number)

    monkeypatch.setattr(ClassKernels, "shutdown_kernel", shutdown)
    DESK.set(SimpleNamespace(folder=tmp_path / "cem"))
    assert refusal(kernels).startswith("This machine has no room for another page just now")
    assert closed == ended
