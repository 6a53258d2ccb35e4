"""The commands of `evenblow`, a module for each thing they are about; `judging.cli` puts them together.

Each command imports what it needs when it runs, so that `evenblow rows` does not wait for audio.
"""
