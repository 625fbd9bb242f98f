"""The planner's keys never reach a person."""

import pytest

from dispatch.wording import in_names

NAMES = {"c51": "MD22", "v135": "J-1026"}


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ('The vehicle of crew "c51" has 11 too little room for air_mover.',
         "The vehicle of crew MD22 has 11 too little room for air movers."),
        ('Crew "c51" would reach "v135" too late.', "Crew MD22 would reach J-1026 too late."),
        ('Crew "c99" is unknown here.', 'Crew "c99" is unknown here.'),
        ("2 lgr and 1 cavity_kit are missing.", "2 low-grain dehumidifiers and 1 wall-cavity kits are missing."),
    ],
)  # fmt: skip
def test_keys_become_names(said: str, shown: str) -> None:
    assert in_names(said, NAMES) == shown
