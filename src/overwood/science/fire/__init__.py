"""Fire on the forest floor: fuel moisture from the weather, spread and flame, and what they do to stems."""
