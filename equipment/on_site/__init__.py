"""What a crew says of the equipment at a job: how many it sees, what ran, and what is plugged in where."""
