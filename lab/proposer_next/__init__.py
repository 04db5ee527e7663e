"""The next network, not trained yet: real plates and false finds marked on photographs, ends told apart."""
