"""Streams of chance: one for each purpose, so that asking one of them more often leaves all others as they were."""

from zlib import crc32

import numpy as np


def stream(seed: int, purpose: str, number: int = 0) -> np.random.Generator:
    """The same numbers for the same seed, purpose and number, whatever else was drawn."""
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, crc32(purpose.encode()), number])))
