"""Counts beside counts: what changed between visits, what was counted twice, and what an audit asks for."""
