"""`python -m midfoot` is the command line."""

from midfoot.cli import main

main()
