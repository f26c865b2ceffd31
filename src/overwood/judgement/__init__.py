"""Records meet science; figures meet rules: evidence, gates, the next step."""
