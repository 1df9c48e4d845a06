"""Threads of linear algebra, as threadpoolctl reports them."""

from __future__ import annotations

import pytest
from threadpoolctl import threadpool_info, threadpool_limits

from packer.search.parallel.threads import one_thread


def threads():
    return [pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"]


def test_one_thread_is_used_and_the_number_restored():
    with threadpool_limits(2, "blas"):
        before = threads()
        assert before
        with one_thread():
            assert threads() == [1] * len(before)
        assert threads() == before


def test_the_number_is_restored_after_an_error():
    before = threads()
    with pytest.raises(KeyboardInterrupt), one_thread():
        raise KeyboardInterrupt
    assert threads() == before
