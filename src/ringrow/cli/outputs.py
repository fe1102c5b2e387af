"""Placeholder."""
import click

@click.command("map")
def map_() -> None:
    """Not yet."""

@click.command()
def export() -> None:
    """Not yet."""
