"""What running jobs could give back: one row for each job and reason, in the order of the rows."""

from dispatch.manager.surge_page import GivesBack, gives_back
from equipment.selectors import Spare


def test_the_rooms_of_a_job_stand_in_one_row_for_each_reason() -> None:
    def spare(job: str, model: str, count: int, why: str) -> Spare:
        return Spare(1, job, "Vernonia", 45.0, -123.0, 1, model, "air_mover", count, why, 30)

    rows = [
        spare("J-2", "Low mover", 2, "the job at goal for 30 h"),
        spare("J-2", "Axial mover", 1, "the job at goal for 30 h"),
        spare("J-2", "Low mover", 3, "the job at goal for 30 h"),
        spare("J-1", "Low mover", 1, "bedroom at goal for 20 h"),
        spare("J-2", "Low mover", 1, "more than asked for"),
    ]
    assert gives_back(rows) == (
        GivesBack("J-2", "Vernonia", (("Axial mover", 1), ("Low mover", 5)), "the job at goal for 30 h"),
        GivesBack("J-1", "Vernonia", (("Low mover", 1),), "bedroom at goal for 20 h"),
        GivesBack("J-2", "Vernonia", (("Low mover", 1),), "more than asked for"),
    )
