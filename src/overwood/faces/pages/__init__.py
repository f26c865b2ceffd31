"""The desk in the browser, for one person on this machine: server-rendered pages that ask the desk once and render
once."""
