"""Three drawn sets of invented lifters, one per lift: a clip and what the sender wrote (`.mp4` and `.toml`)."""
