"""Evenblow: a judging assistant for striking competitions on tower bells.

The folders below read in the order in which the data flows: what should be rung (`piece`), what was
heard (`ear`), how evenly it was struck (`striking`), what the judges and the rules make of it
(`marks`, `contest`), and where it is kept, printed and shown (`store`, `papers`, `jobs`, `web`).
"""

__version__ = "0.1.0"
