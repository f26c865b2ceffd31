"""One function for each thing a person asks for: it opens the book, loads records once, asks judgement."""
