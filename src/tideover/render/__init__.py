"""Answers made visible: text for terminals and pipes, plain data for programs. Nothing here computes an answer."""
