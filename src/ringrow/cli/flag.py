"""Placeholder."""
import click

@click.group()
def flag() -> None:
    """Not yet."""
