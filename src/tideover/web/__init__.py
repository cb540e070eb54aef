"""The screen: builds that are open, what is worked out about them, and the pages that show it."""
