"""The order of the steps: the story of each command, a step a line."""
