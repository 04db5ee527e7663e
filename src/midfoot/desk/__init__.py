"""Use-cases of the desk, shared by its pages, the command line and the jobs; it knows no shell."""
