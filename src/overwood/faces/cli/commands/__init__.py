"""One file a command; a command of the same name as the desk function it calls."""
