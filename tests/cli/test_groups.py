"""Options that several commands share: the paper they mean."""

from __future__ import annotations

import pytest

from packer.cli.groups import PaperArguments
from packer.errors import OptionError
from packer.planning.paper import DEFAULT, PAPERS


def test_a_paper_is_named_measured_or_weighed():
    """A paper of 80 g/m2 and 1.25 cm3/g has a caliper of 100 um."""
    assert PaperArguments().chosen() == DEFAULT
    assert PaperArguments(paper="Glassine").chosen() == PAPERS["glassine"]
    assert PaperArguments(caliper=70.0).chosen().caliper == 70.0
    assert PaperArguments(weight=80.0, bulk=1.25).chosen().caliper == 100.0


@pytest.mark.parametrize(
    ("given", "named"),
    [
        ({"paper": "glassine", "caliper": 31.0}, "--paper and --caliper"),
        ({"paper": "glassine", "weight": 40.0}, "--paper and --weight"),
        ({"caliper": 31.0, "weight": 40.0}, "--caliper and --weight"),
    ],
)
def test_two_ways_to_give_a_paper_are_refused(given, named):
    with pytest.raises(OptionError, match=f"{named}: a paper is given in one way only"):
        PaperArguments(**given).chosen()
