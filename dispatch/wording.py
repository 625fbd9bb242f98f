"""The planner's sentences with the names that people use in place of a problem's keys."""

import re
from collections.abc import Mapping

_QUOTED_KEY = re.compile(r'"([cfv]\d+)"')
# Load keys as the planner names them, in a dispatcher's words.
_KINDS = {
    "air_mover": "air movers",
    "air_scrubber": "air filtration devices",
    "cavity_kit": "wall-cavity kits",
    "floor_mat_kit": "floor-mat kits",
    "lgr": "low-grain dehumidifiers",
    "conventional": "conventional dehumidifiers",
    "desiccant": "desiccant dehumidifiers",
    "volume_cuft": "cubic feet of cargo",
}
_KIND = re.compile(rf"\b({'|'.join(_KINDS)})\b")


def in_names(message: str, names: Mapping[str, str]) -> str:
    """
    A planner's message for people: `names` maps a crew's or visit's key in the problem to what it is called.

    A key without a name stays as it is, so that nothing is hidden.
    """
    named = _QUOTED_KEY.sub(lambda found: names.get(found[1], found[0]), message)
    return _KIND.sub(lambda found: _KINDS[found[1]], named)
