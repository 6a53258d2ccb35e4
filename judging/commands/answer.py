"""The answer for programs, on standard output."""

import json

import typer


def print_json(document: object) -> None:
    """Print one JSON document on one line; a number that JSON has no word for is an error of ours."""
    typer.echo(json.dumps(document, ensure_ascii=False, allow_nan=False))
