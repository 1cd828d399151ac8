"""One worker for all tests of trials: starting a process takes longer than most tests."""

from collections.abc import Iterator

import pytest

from evenweave.trial.work.worker import Worker


@pytest.fixture(scope="session")
def worker() -> Iterator[Worker]:
    with Worker() as one:
        yield one
