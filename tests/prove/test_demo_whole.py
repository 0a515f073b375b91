"""The whole invented farm made again from its seeds (``make prove``)."""

from __future__ import annotations

import numpy as np
import pytest

from bedlore.outlook.twin import load_snapshot
from tools import make_demo

pytestmark = pytest.mark.prove


def test_every_file_is_made_again_byte_for_byte() -> None:
    for name, text in make_demo.make().items():
        assert (make_demo.FOLDER / name).read_bytes() == text.encode("utf-8"), name


def test_every_stored_state_is_made_again() -> None:
    for bed_id, again in make_demo.stored_states().items():
        stored = load_snapshot(make_demo.FOLDER / "snapshots" / f"{bed_id}.npz")
        assert stored is not None
        assert stored.key == again.key, "made by another version of the model"
        arrays = again.state.arrays()
        for name, array in stored.state.arrays().items():
            assert np.allclose(array, arrays[name], rtol=1e-4, atol=1e-9), name
