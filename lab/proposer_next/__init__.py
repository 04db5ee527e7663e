"""A third round, trained once and not taken: real plates and false finds on photographs, ends told apart."""
