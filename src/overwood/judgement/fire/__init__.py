"""The burn judged: days that fit the card, what stems and their value risk, what the floor keeps, and the gates before
it."""
