"""The search on a cluster: a local one of two workers gives the packing of two processes."""

from __future__ import annotations

import pytest

from packer.search.search import pack
from tests.strategies import random_figure


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_a_cluster_of_two_gives_the_packing_of_two_processes():
    distributed = pytest.importorskip("distributed")
    figure = random_figure(21, 5, joints=2)
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        far = pack(figure, seed=5, starts=3, executor=client.get_executor())
    near = pack(figure, seed=5, starts=3, workers=2)
    assert far.tips == near.tips
    assert far.lengths == near.lengths
