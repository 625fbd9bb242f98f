"""``python -m equipment.sizing LOSS.json``: the report on standard output, or a refusal on standard error."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import NoReturn

from equipment.sizing.port import run
from equipment.sizing.refused import LossRefused
from equipment.sizing.rule_set import RuleSetRefused, rule_sets_in

REFUSED = 2


class _Arguments(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise LossRefused("usage", "arguments", f"{message}. {self.format_usage().strip()}")


def main(arguments: list[str] | None = None) -> int:
    """Exit status 0 with a report, 2 with a refusal and nothing on standard output."""
    try:
        parser = _Arguments(prog="python -m equipment.sizing", description=__doc__)
        parser.add_argument("loss", metavar="LOSS.json", help="the loss; - reads standard input")
        parser.add_argument("--rules-folder", type=Path, help="a folder of the company's own rule sets (TOML)")
        asked = parser.parse_args(arguments)
        company = rule_sets_in(asked.rules_folder) if asked.rules_folder else None
        report = run(_read(asked.loss), company_rules=company)
    except LossRefused as refused:
        return _refuse(refused)
    except RuleSetRefused as refused:
        return _refuse(LossRefused(refused.code, refused.where, str(refused)))
    sys.stdout.buffer.write(report.encode("utf-8"))
    sys.stdout.buffer.flush()
    return 0


def _read(name: str) -> bytes:
    if name == "-":
        return sys.stdin.buffer.read()
    try:
        return Path(name).read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise LossRefused("file", "arguments", f"{name}: {reason}. Give a file that can be read, or -.") from None


def _refuse(refused: LossRefused) -> int:
    # ASCII only, so that no odd key name can break the answer on any terminal.
    sys.stderr.write(json.dumps(refused.as_document()) + "\n")
    return REFUSED


if __name__ == "__main__":
    sys.exit(main())
