"""Placeholder."""
import click

@click.command()
def where() -> None:
    """Not yet."""
