"""What the search beside the table tells, asked without a process of its own."""

import pytest

from packer import read_figure
from packer.model.problem import pose
from packer.search.frame import first_frame
from packer.search.from_here import at_rest
from packer.search.result.packing_distance import difference
from packer.table import offers
from packer.table.offers import SearchReply, SearchRequest, answer_requests


class Pipe:
    """A pipe that gives one wish, and ends once that is answered."""

    def __init__(self, wish, enough=1):
        self.wishes, self.told, self.enough = [wish], [], enough

    def recv(self):
        if not self.wishes:
            raise EOFError
        return self.wishes.pop(0)

    def poll(self):
        return sum(told.packing is not None for told in self.told) >= self.enough

    def send(self, told):
        assert isinstance(told, SearchReply)
        self.told.append(told)


@pytest.mark.parametrize(
    ("waiting", "told"),
    [
        (["rest", "old", "new"], ["new"]),
        (["old", "rest", "new"], ["new"]),
        (["old", "new"], ["new"]),
        (["old", "rest"], []),
    ],
)
def test_of_wishes_that_wait_the_newest_is_answered(monkeypatch, waiting, told):
    pipe, answers = Pipe(None), []
    pipe.wishes = [SearchRequest(0, None if wish == "rest" else wish) for wish in waiting]
    pipe.poll = lambda: bool(pipe.wishes)
    monkeypatch.setattr(
        offers, "_answer", lambda _pipe, _wish, packing: answers.append(packing)
    )
    with pytest.raises(EOFError):
        answer_requests(pipe)
    assert answers == told


@pytest.fixture
def poor(samples):
    return at_rest(first_frame(pose(read_figure(samples / "shore_crab.toml")), seed=1))


def answered(wish):
    pipe = Pipe(wish)
    with pytest.raises(EOFError):
        answer_requests(pipe)
    return pipe.told


def test_a_bound_and_better_layouts_are_told(poor):
    told = answered(SearchRequest(7, poor))
    assert {one.number for one in told} == {7}
    assert told[0].bound.scale >= poor.scale
    larger = [one.packing for one in told if one.packing is not None]
    assert all(packing.scale > poor.scale for packing in larger)
    assert larger
    assert told[-1] == SearchReply(7)


def test_a_gallery_is_of_really_different_layouts(poor):
    wish = SearchRequest(
        1, poor, several=True, seconds=1.0
    )  # how many come hangs on the machine
    told = [one.packing for one in answered(wish) if one.packing]
    assert told
    assert all(difference(told[0], other) >= 0.3 for other in told[1:])
    assert all(not packing.violations() for packing in told)
