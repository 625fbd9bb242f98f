"""`python -m dispatch.replay FILE`: replay on the database that the environment names, which must be empty."""

import argparse
import json
import sys
from pathlib import Path

import django


def main() -> int:
    """Exit status 0 when every expectation held, 1 when one did not, 2 when nothing was done."""
    parser = argparse.ArgumentParser(prog="python -m dispatch.replay", description=__doc__)
    parser.add_argument("night", type=Path)
    parser.add_argument("--resume", action="store_true", help="go on with a replay that was stopped")
    asked = parser.parse_args()
    django.setup()
    from django.core.management import call_command

    from dispatch.replay import place, scenario
    from dispatch.replay.play import play
    from jobs.refusals import Refusal

    try:
        night = scenario.read(asked.night)
        if not asked.resume and not place.is_empty():
            raise scenario.ScenarioUnusable(
                "This database is not empty: a replay would be mixed with what is there. Name an empty one, or "
                "--resume the replay that was stopped in it.",
                where="--database",
            )
        call_command("migrate", verbosity=0, interactive=False)
        held = True
        for line in play(night):
            sys.stdout.buffer.write(json.dumps(line, ensure_ascii=False).encode() + b"\n")
            sys.stdout.buffer.flush()
            held = held and not line["failed"]
    except Refusal as refusal:
        where = refusal.where or "company"
        sys.stderr.write(json.dumps({"code": refusal.code, "where": where, "message": refusal.message}) + "\n")
        return 2
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
