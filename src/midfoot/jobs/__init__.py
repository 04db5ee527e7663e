"""The queue and its workers: rows of the table of jobs are the truth."""
