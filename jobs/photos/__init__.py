"""Photos of a job: made small and free of where they were taken, kept once, shown to whom the job concerns."""
