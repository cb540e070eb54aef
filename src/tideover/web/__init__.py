"""The screen: a build in the browser, live. Thin: every number comes from the answers."""
