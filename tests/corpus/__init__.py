"""Foreign sheets in the manner of real ones, with what must come of each."""
