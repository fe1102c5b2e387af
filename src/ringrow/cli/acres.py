"""Placeholder."""
import click

@click.command()
def acres() -> None:
    """Not yet."""
