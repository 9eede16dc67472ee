"""What several tests share."""

import pytest


@pytest.fixture
def correction() -> object:
    """The correction of the tests of streams and files."""
    pytest.importorskip("pyarrow")
    import stream_case

    return stream_case.correction()
