"""The screen: the sheet of a build, live, on a laptop and at the bench. Every number comes from the answers."""
