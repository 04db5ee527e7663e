"""One file for each schema there ever was."""
