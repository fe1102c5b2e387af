"""Placeholder."""
import click

@click.command()
def new() -> None:
    """Not yet."""

@click.command()
def check() -> None:
    """Not yet."""
