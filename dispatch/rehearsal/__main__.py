"""`python -m dispatch.rehearsal ASKED.json ANSWER.json`: one fleet, on the empty database of the environment."""

import json
import sys
from datetime import date
from pathlib import Path
from typing import Any

import django


def main() -> int:
    django.setup()
    from django.core.management import call_command
    from tqdm import tqdm

    from dispatch.rehearsal import runs
    from jobs.refusals import Refusal

    told: dict[str, Any] = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))
    asked = runs.Asked(
        company=Path(told["company"]),
        start=date.fromisoformat(told["start"]),
        days=told["days"],
        storm=told["storm"],
        seeds=tuple(told["seeds"]),
        rules=tuple(told["rules"]),
        iterations=told["iterations"],
    )
    call_command("migrate", verbosity=0, interactive=False)
    whole = asked.whole * len(asked.seeds) * len(asked.rules)
    with tqdm(total=whole, unit="day", file=sys.stderr, disable=told["quiet"], mininterval=0.5) as bar:

        def tell(what: str, day: int) -> None:
            bar.set_description(what, refresh=False)
            bar.update()

        try:
            found = runs.all_runs(asked, told["fleet"], tell)
        except Refusal as refusal:
            where = refusal.where or "company"
            sys.stderr.write(json.dumps({"code": refusal.code, "where": where, "message": refusal.message}) + "\n")
            return 2
    Path(sys.argv[2]).write_text(json.dumps([runs.as_document(one) for one in found]), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
